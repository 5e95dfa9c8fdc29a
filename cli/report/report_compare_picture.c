/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The means against their margins, drawn. */
#include <math.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/picture/margin_picture.h"
#include "cli/report/report_compare_people.h"
#include "cli/wording/shown.h"
#include "daemon/base/text.h"

enum { ROWS = 40, FIGURE = 64, NAME = 32, DESCRIPTION = 1 << 14 };

struct drawing {
	struct margin_row rows[ROWS];
	char figures[ROWS][FIGURE];
	size_t count;
	struct text description;
};

static enum row_verdict
verdict_of(const struct comparison *one)
{
	if (comparison_has_changed(one))
		return ROW_DIFFERENT;
	switch (one->mean) {
	case EQUIVALENCE_SAME:
		return ROW_SAME;
	case EQUIVALENCE_DIFFERENT:
		return ROW_DIFFERENT;
	case EQUIVALENCE_OPEN:
		break;
	}
	return ROW_OPEN;
}

/* What is drawn: characteristics with limits, and whatever has another mean or changed. */
static bool
is_drawn(const struct comparison *one, bool limited)
{
	return one->equivalence.margin > 0 && isfinite(one->equivalence.difference) &&
	       report_compare_limited(one) == limited &&
	       (limited || one->mean == EQUIVALENCE_DIFFERENT ||
		   comparison_has_changed(one));
}

static void
add(struct drawing *drawing, const struct report_compare *report,
    const struct comparison *one)
{
	const struct equivalence *e = &one->equivalence;
	const struct cell difference = shown_deviation(
			      report->settings, one->feature, e->difference),
			  margin = shown_deviation(
			      report->settings, one->feature, e->margin);
	const char *name = feature_get(one->feature)->name,
		   *unit = shown_unit(report->settings, one->feature);
	char *figure = drawing->figures[drawing->count];

	snprintf(figure, FIGURE, "%+.*f%s%s", difference.digits, difference.shown,
	    *unit ? " " : "", unit);
	text_printf(&drawing->description,
	    "%s%s: difference %s, margin %.*f, its mean %s%s",
	    drawing->count > 0 ? "; " : "", name, figure, margin.digits, margin.shown,
	    comparison_has_changed(one) ? "" : "is ",
	    comparison_has_changed(one)     ? "changed during this time"
	    : one->mean == EQUIVALENCE_SAME ? "the same"
					    : comparison_verdict_text(one->mean));
	drawing->rows[drawing->count++] = (struct margin_row){
	    .name = name,
	    .words = figure,
	    .difference = e->difference / e->margin,
	    .low = e->difference_90.low / e->margin,
	    .high = e->difference_90.high / e->margin,
	    .verdict = verdict_of(one),
	};
}

static void
fill(struct drawing *drawing, const struct report_compare *report)
{
	for (int pass = 0; pass < 2; pass++)
		for (size_t i = 0; i < report->count && drawing->count < ROWS; i++)
			if (is_drawn(&report->list[i], pass == 0))
				add(drawing, report, &report->list[i]);
}

void
report_compare_put_picture(struct page *page, const struct report_compare *report)
{
	char name[NAME] = "difference";

	if (!page_draws(page))
		return;
	struct drawing *drawing = calloc(1, sizeof *drawing);
	if (!drawing) {
		page_fail(page);
		return;
	}
	text_init(&drawing->description, DESCRIPTION);
	fill(drawing, report);
	const struct margin_picture what = {
	    .heading = "means against the reference",
	    .caption = "difference now less then, in margins; beyond 1 it matters",
	    .rows = drawing->rows,
	    .count = drawing->count,
	};
	if (report->number > 0)
		snprintf(name, sizeof name, "difference-%zu", report->number + 1);
	const struct picture picture = margin_picture_make(&what, name, what.heading,
	    drawing->description.bytes ? drawing->description.bytes : "");
	if (drawing->count > 0)
		page_picture(page, &picture, NULL);
	text_release(&drawing->description);
	free(drawing);
}
