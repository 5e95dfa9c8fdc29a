/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The figures of each population: one recipe, tool, lot and material. */
#ifndef CLI_REPORT_REPORT_POPULATION_H
#define CLI_REPORT_REPORT_POPULATION_H

#include "cli/page/page.h"
#include "cli/population/judgement.h"
#include "conf/settings.h"

struct report_line;

struct report_part {
	struct page *page;
	const struct settings *settings;
	const char *line;
	const struct population *population;
};

/* All of a line: their tables and the sentences below them; people are spared the thirtieth. */
void report_populations_put(const struct report_line *line);

#endif
