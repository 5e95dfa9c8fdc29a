/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A characteristic shift by shift, on a page: its table, its pictures, whether it moved. */
#ifndef CLI_REPORT_REPORT_TREND_H
#define CLI_REPORT_REPORT_TREND_H

#include "cli/page/page.h"
#include "cli/population/trend.h"
#include "cli/population/trend_change.h"
#include "cli/population/trend_courses.h"

struct error;

struct report_trend {
	struct page *page;
	const struct settings *settings;
	const char *line;
	const struct trend_kind *kind;
	const struct trend_changes *changes;
	const struct trend_course *course;
	size_t number; /* of the page's kinds, from 0: in its pictures' names */
	bool pictures; /* the format shows some */
};

/* "recipe 12 (pond-basin), tool T-117". */
enum { REPORT_TREND_TITLE = 4 * LEDGER_NAME };
void report_trend_title(const struct settings *settings, const struct trend_kind *kind,
    char title[static REPORT_TREND_TITLE]);

/* 0, or ERROR_MEMORY. */
int report_trend_put(const struct report_trend *report, struct error *error);

/* What the words of these tables mean, and how much of all kinds chance alone would show. */
void report_trend_put_remarks(
    struct page *page, const struct trend_courses *kinds, size_t count);

/* "2026-03-02 early", "2026-03-02" outside of all shifts. */
enum { REPORT_TREND_SHIFT = SETTINGS_NAME + 24 };
void report_trend_shift(
    const struct trend_shift *point, char words[static REPORT_TREND_SHIFT]);

/* What changed before a point, as far as it concerns the feature: "lot A-0413; calibrated
 * pyrometers.top_1 and 2 more"; "" for nothing. */
enum { REPORT_TREND_CHANGES = 300 };
void report_trend_changes(const struct report_trend *report, size_t point,
    char words[static REPORT_TREND_CHANGES]);

#endif
