/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All lines, recipes, tools and characteristics of a trend in one table: a row each. */
#ifndef CLI_REPORT_REPORT_TREND_OVERVIEW_H
#define CLI_REPORT_REPORT_TREND_OVERVIEW_H

#include "cli/page/page.h"
#include "cli/population/trend_courses.h"

/* The table "overview", with what its words mean; of one characteristic alone none.  Below
 * it, for people, what each characteristic is, once and short. */
void report_trend_overview_put(
    struct page *page, const struct trend_courses *kinds, size_t count);

#endif
