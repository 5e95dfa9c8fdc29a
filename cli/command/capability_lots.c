/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_lots.h"

#include <math.h>
#include <stdlib.h>

#include "cli/stats/components.h"
#include "daemon/base/error.h"
#include "daemon/base/moments.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* Of each lot. */
static struct moments *
lots_new(const struct capability_shots *shots)
{
	struct moments *lots = calloc(shots->lots.count, sizeof *lots);

	if (!lots)
		return NULL;
	for (size_t i = 0; i < shots->lots.count; i++)
		moments_init(&lots[i]);
	for (size_t i = 0; i < shots->count; i++)
		if (isfinite(shots->values[i]))
			moments_add(&lots[shots->lot_of[i]], shots->values[i]);
	return lots;
}

static void
put_table(struct page *page, const struct capability_view *view,
    const struct capability_shots *shots, const struct moments *lots)
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
		const struct moments *lot = &lots[i];
		double mean = moments_mean(lot), sd = moments_sd(lot);
		const char *name = shots->lots.list[i];
		const struct cell cells[] = {
		    *name ? cell_words(name) : cell_absent("unknown"),
		    cell_count((int64_t)shots->lots.shots[i]),
		    cell_count((int64_t)lot->count),
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
    const struct capability_shots *shots, const struct moments *lots)
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
	struct moments *lots = lots_new(shots);
	struct error error;

	if (!lots) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	enum command_exit code = put_page(call, view, shots, lots);
	free(lots);
	return code;
}
