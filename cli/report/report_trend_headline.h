/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a trend comes to, in a sentence or two: of a characteristic, of a recipe and tool, of
 * the page. */
#ifndef CLI_REPORT_REPORT_TREND_HEADLINE_H
#define CLI_REPORT_REPORT_TREND_HEADLINE_H

#include "cli/page/page.h"
#include "cli/population/trend_courses.h"

/* "Capable in 1 of 6 shifts, not capable in 4; its mean stepped up between 2026-03-02 early and
 * late; all 320 shots outside a limit since, 12 of 160 before." */
enum { REPORT_TREND_HEADLINE = 500 };
void report_trend_headline(const struct trend_kind *kind,
    const struct trend_course *course, char words[static REPORT_TREND_HEADLINE]);

/* How bad that is. */
enum page_tone report_trend_headline_tone(const struct trend_course *course);

/* Over the characteristics of a recipe and tool: what is outside, what moved, what is capable.
 * And over all of them, where there are several. */
void report_trend_headline_put(struct page *page, const struct trend_courses *courses);
void report_trend_headline_put_page(
    struct page *page, const struct trend_courses *kinds, size_t count);

#endif
