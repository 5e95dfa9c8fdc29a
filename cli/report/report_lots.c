/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_lots.h"

#include <math.h>
#include <stdlib.h>

#include "cli/stats/components.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct grouped {
	double *values;
	bool *breaks;
	size_t *group;
	size_t groups;
};

/* The lot of each shot, as a number from 0. */
static void
number_lots(struct grouped *grouped, const struct run *run)
{
	for (size_t i = 0; i < run->count; i++) {
		size_t k = 0;
		while (k < i && run->shots[k].population != run->shots[i].population)
			k = run_lot_changes(run, i) ? k + 1 : i - 1;
		grouped->group[i] = k < i ? grouped->group[k] : grouped->groups++;
	}
}

static void
put_row(const struct report_line *line, const struct run *run,
    const struct grouped *grouped, int feature)
{
	const struct settings *settings = line->settings;

	run_series(run, feature, false, grouped->values, grouped->breaks);
	struct components c =
	    components_of(grouped->values, grouped->group, run->count, grouped->groups);
	double share = c.between / (c.between + c.within);
	struct cell p = cell_number(c.p, 3);
	if (c.p < 0.001)
		p.instead = "below 0.001";
	const struct cell cells[] = {
	    cell_words(feature_get(feature)->name),
	    cell_count((int64_t)c.groups),
	    cell_count((int64_t)c.n),
	    cell_words(shown_unit(settings, feature)),
	    shown_deviation(settings, feature, sqrt(c.within)),
	    shown_deviation(settings, feature, sqrt(c.between)),
	    cell_number(share, 3),
	    isfinite(share) ? cell_shown(share, 100 * share, 0) : cell_absent(NULL),
	    cell_number(c.f, 2),
	    p,
	};
	page_row(line->page, cells);
}

static void
put_table(const struct report_line *line, const struct run *run,
    const struct grouped *grouped)
{
	static const struct column columns[] = {
	    {"characteristic", "characteristic", 0},
	    {"lots", "lots", 0},
	    {"n", "n", 0},
	    {NULL, "unit", 0},
	    {"sd_within", "s within lots", 0},
	    {"sd_between", "s between lots", 0},
	    {"share_between", NULL, 0},
	    {NULL, "% between", 0},
	    {"f", NULL, 0},
	    {"p", "p", 0},
	};
	const struct judgement *judgement =
	    report_line_judgement(line, run->shots[0].population);

	page_table(line->page, "between_lots", "Between lots and within them", columns,
	    COUNT(columns));
	for (size_t i = 0; i < judgement->limited_count; i++)
		put_row(line, run, grouped, judgement->limited[i].feature);
	page_table_end(line->page);
	if (judgement->limited_count > 0)
		page_note(line->page, NULL, TONE_FAINT,
		    "The share of the variance that lies between lots; p is the chance "
		    "of lots so far apart where all are alike and shots independent. "
		    "Lots follow each other in time: what drifted meanwhile is in it.");
}

int
report_lots_put(
    const struct report_line *line, const struct run *run, struct error *error)
{
	if (run->lots < 2)
		return 0;
	struct grouped grouped = {
	    .values = calloc(run->count, sizeof *grouped.values),
	    .breaks = calloc(run->count, sizeof *grouped.breaks),
	    .group = calloc(run->count, sizeof *grouped.group),
	};
	bool made = grouped.values && grouped.breaks && grouped.group;
	if (made) {
		number_lots(&grouped, run);
		put_table(line, run, &grouped);
	}
	free(grouped.values);
	free(grouped.breaks);
	free(grouped.group);
	return made ? 0 : error_set(error, ERROR_MEMORY, "out of memory");
}
