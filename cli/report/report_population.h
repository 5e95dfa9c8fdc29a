/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One population's part of the capability report. */
#ifndef CLI_REPORT_REPORT_POPULATION_H
#define CLI_REPORT_REPORT_POPULATION_H

#include "cli/page/page.h"
#include "cli/population/judgement.h"
#include "conf/settings.h"

struct report_part {
	struct page *page;
	const struct settings *settings;
	const char *line;
	const struct population *population;
};

/* "recipe 12 (pond-basin), tool T-117, lot A-0412, abs"; what is unknown says so. */
enum { REPORT_TITLE = 5 * LEDGER_NAME + 64 };
void report_population_title(
    const struct report_part *part, char title[static REPORT_TITLE]);

/* Its tables and the sentences below them; `judgement` NULL: it has no complete shot. */
void report_population_put(
    const struct report_part *part, const struct judgement *judgement);

#endif
