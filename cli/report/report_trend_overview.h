/* SPDX-License-Identifier: GPL-3.0-or-later */
/* All lines, recipes, tools and characteristics of a trend in one table: a row each. */
#ifndef CLI_REPORT_REPORT_TREND_OVERVIEW_H
#define CLI_REPORT_REPORT_TREND_OVERVIEW_H

#include "cli/page/page.h"
#include "cli/population/trend_courses.h"

/* The table "overview", with what its words mean; of one characteristic alone none. */
void report_trend_overview_put(
    struct page *page, const struct trend_courses *kinds, size_t count);

/* Once for each characteristic: what it is, in a few words for people. */
void report_trend_overview_put_meanings(
    struct page *page, const struct trend_courses *kinds, size_t count);

#endif
