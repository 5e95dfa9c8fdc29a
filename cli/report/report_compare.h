/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots of one kind against a reference run, on a page. */
#ifndef CLI_REPORT_REPORT_COMPARE_H
#define CLI_REPORT_REPORT_COMPARE_H

#include "cli/page/page.h"
#include "cli/population/comparison.h"
#include "conf/settings.h"

enum { REPORT_COMPARE_REASON = 600, REPORT_COMPARE_NAME = 128 };

struct report_compare_refused {
	int feature;
	char reason[REPORT_COMPARE_REASON];
};

/* A set point that is another than in the reference's shots. */
struct report_compare_set_point {
	char channel[REPORT_COMPARE_NAME]; /* "device.channel" */
	double then, now;                  /* SI; NAN: not read */
	enum dimension dimension;
};

struct report_compare {
	const struct settings *settings;
	const char *line, *side, *recipe, *tool;
	const struct comparison *list;
	size_t count;
	const struct report_compare_refused *refused;
	size_t refused_count;
	const struct report_compare_set_point *set_points;
	size_t set_point_count;
	size_t number;                /* of the kinds before: its picture's name */
	const char *set_points_words; /* what is told of them; "": they are the same */
};

/* What came of all of it. */
struct report_compare_counts {
	size_t same, different, open; /* without those that changed within the time */
	size_t changed, refused;
};
struct report_compare_counts report_compare_count(const struct report_compare *report);

/* In one sentence, and one of what is open. */
void report_compare_put_answer(struct page *page, const struct report_compare *report);

/* The tables: "features", "refused", "set_points" for machines. */
void report_compare_put(struct page *page, const struct report_compare *report);

/* The means against their margins, for formats that show pictures. */
void report_compare_put_picture(struct page *page, const struct report_compare *report);

/* How it is judged. */
void report_compare_put_remarks(struct page *page);

#endif
