/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_lots.h"

#include <math.h>
#include <stdlib.h>

#include "cli/stats/components.h"
#include "daemon/base/error.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct lot {
	size_t n;
	double mean, squares; /* of the differences from the mean */
};

static struct lot *
lots_new(const struct capability_shots *shots)
{
	struct lot *lots = calloc(shots->lots.count, sizeof *lots);

	for (size_t i = 0; lots && i < shots->count; i++) {
		struct lot *lot = &lots[shots->lot_of[i]];
		double value = shots->values[i];
		if (isnan(value))
			continue;
		double off = value - lot->mean;
		lot->mean += off / (double)++lot->n;
		lot->squares += off * (value - lot->mean);
	}
	return lots;
}

static double
lot_sd(const struct lot *lot)
{
	return lot->n > 1 ? sqrt(lot->squares / (double)(lot->n - 1)) : NAN;
}

static void
put_table(struct page *page, const struct capability_view *view,
    const struct capability_shots *shots, const struct lot *lots)
{
	static const struct column columns[] = {
	    {"lot", "lot", 0},
	    {"shots", "shots", 0},
	    {"n", "values", 0},
	    {"mean", "mean", 0},
	    {"sd", "deviation", 0},
	};

	page_table(page, "lots", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < shots->lots.count; i++) {
		const struct lot *lot = &lots[i];
		double mean = lot->n > 0 ? lot->mean : NAN, sd = lot_sd(lot);
		const char *name = shots->lots.list[i];
		const struct cell cells[] = {
		    *name ? cell_words(name) : cell_absent("unknown"),
		    cell_count((int64_t)shots->lots.shots[i]),
		    cell_count((int64_t)lot->n),
		    isnan(mean)
			? cell_absent(NULL)
			: cell_shown(mean, mean * view->scale + view->offset, 3),
		    isnan(sd) ? cell_absent(NULL) : cell_shown(sd, sd * view->scale, 3),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_components(struct page *page, const struct capability_view *view,
    const struct components *components)
{
	double within = sqrt(components->within), between = sqrt(components->between);

	page_open(page, GROUP_OBJECT, "components", NULL);
	page_field(page, "variance_between", NULL, cell_number(components->between, 0));
	page_field(page, "variance_within", NULL, cell_number(components->within, 0));
	page_field(page, "f", NULL, cell_number(components->f, 0));
	page_field(page, "p", NULL, cell_number(components->p, 0));
	page_close(page);
	if (isnan(within) || isnan(between))
		return;
	page_note(page, NULL, TONE_PLAIN,
	    "Within a lot the deviation is %.3g%s%s, between the lots' means %.3g: "
	    "%.0f %% "
	    "of the variance comes with the lot. That lots are alike and this is "
	    "chance: "
	    "p %.2g.",
	    within * view->scale, *view->unit ? " " : "", view->unit,
	    between * view->scale,
	    100 * components->between / (components->between + components->within),
	    components->p);
}

static enum command_exit
put_page(const struct call *call, const struct capability_view *view,
    const struct capability_shots *shots, const struct lot *lots)
{
	const struct components components = components_of(
	    shots->values, shots->lot_of, shots->count, shots->lots.count);
	struct page *page = command_page_of(call, "lots");
	char reason[160];

	if (!page)
		return COMMAND_CANNOT;
	snprintf(reason, sizeof reason,
	    "shots of %zu lots are mixed; choose one with --lot NAME",
	    shots->lots.count);
	const struct cell sentence = cell_words(reason);
	page_field(page, "column", NULL, cell_words(view->title));
	page_field(page, "source", NULL, cell_words(view->source));
	page_field(page, "verdict", NULL,
	    cell_words(capability_verdict_name(STUDY_NOT_ESTABLISHED)));
	page_list(page, "reasons", NULL, &sentence, 1);
	page_note(page, NULL, TONE_STRONG,
	    "%s of %s: whether it is capable is not established: %s.", view->title,
	    view->source, reason);
	put_components(page, view, &components);
	put_table(page, view, shots, lots);
	return command_end_page(call, page, COMMAND_NO);
}

enum command_exit
capability_lots_put(const struct call *call, const struct capability_view *view,
    const struct capability_shots *shots)
{
	struct lot *lots = lots_new(shots);
	struct error error;

	if (!lots) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	enum command_exit code = put_page(call, view, shots, lots);
	free(lots);
	return code;
}
