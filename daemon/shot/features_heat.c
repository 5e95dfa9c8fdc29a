/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/features_inside.h"

#include "daemon/shot/passage.h"
#include "daemon/shot/stuck.h"

#include <math.h>

#define EXIT_FIT_S 5.0       /* end-of-heat surfaces: line fitted over this long */
#define EXIT_FIT_PERIODS 4.5 /* ... and over so many polls: four lie in it for sure */

static const int exit_of[2] = {FEATURE_EXIT_TOP_C, FEATURE_EXIT_BOTTOM_C};

/* --- surfaces ----------------------------------------------------------------------- */

/* The stay that the sheet came in with, and the one that it left with; NULL: none. */
static const struct stay *
first_stay(const struct sheet *sheet)
{
	return sheet->stay_count > 0 ? &sheet->stays[0] : NULL;
}

static const struct stay *
last_stay(const struct sheet *sheet)
{
	return sheet->stay_count > 0 ? &sheet->stays[sheet->stay_count - 1] : NULL;
}

/* What hangs on the oven of a stay; on `otherwise` when there was no stay. */
static const struct oven_roles *
oven_of(const struct feature_source *source, const struct stay *stay, int otherwise)
{
	return &source->roles->ovens[stay != NULL ? stay->oven : otherwise];
}

static struct window
window_of(const struct stay *stay)
{
	return stay != NULL ? sheet_stay_window(stay) : (struct window){.known = false};
}

/* The last EXIT_FIT_S of a heat, longer where the polls are slow. */
static struct window
exit_window(struct window heat, double period_s)
{
	double fit_s = fmax(EXIT_FIT_S, EXIT_FIT_PERIODS * period_s);
	struct window window = heat;

	window.from.ns = heat.to.ns - (int64_t)(fit_s * (double)CLOCK_SECOND_NS);
	if (window.from.ns < heat.from.ns)
		window.from = heat.from;
	return window;
}

bool
feature_is_stuck(
    const struct feature_source *source, uint32_t channel, int stay, struct window part)
{
	const struct stay *of = &source->sheet->stays[stay];
	const struct oven_roles *oven = &source->roles->ovens[of->oven];
	uint32_t all[2 * FEATURE_SURFACES_MAX];
	struct window window = sheet_stay_window(of);
	struct window exit = sheet_exit(source->sheet, stay);
	size_t count = 0;

	for (int side = 0; side < 2; side++)
		for (int i = 0; i < oven->surface_count[side]; i++)
			all[count++] = oven->surface[side][i];
	if (source->line->view == VIEW_EXIT && exit.known)
		window.to = exit.to;
	return stuck_within(source->history, channel, all, count, window, part);
}

struct measure
feature_passage(const struct feature_source *source, uint32_t channel, int stay)
{
	const struct material_settings *material =
	    settings_material(source->settings, source->circumstances->material);
	struct passage_source passage = {.history = source->history,
	    .channel = channel,
	    .still = sheet_stay_window(&source->sheet->stays[stay]),
	    .way = sheet_exit(source->sheet, stay),
	    .limit_c = material != NULL ? material->limit_c : NAN};
	struct shot_channel summary = window_summary(
	    source->history, channel, passage.way, source->line->coverage_min);

	if (summary.absent != ABSENT_NOT)
		return (struct measure){NAN, summary.absent};
	if (feature_is_stuck(source, channel, stay, passage.way))
		return (struct measure){NAN, ABSENT_SENSOR_FAULT};
	return passage_find(&passage);
}

/* One pyrometer at the end of the heat; also its channel's `last`. */
static struct measure
exit_surface(const struct feature_source *source, struct shot *shot, uint32_t channel)
{
	struct window heat = window_of(last_stay(source->sheet));
	struct shot_channel *summary = feature_summary(shot, channel);
	struct measure measure = {NAN, ABSENT_NOT_APPLICABLE};
	int stay = source->sheet->stay_count - 1;
	struct window part =
	    exit_window(heat, history_period_s(source->history, channel));

	if (source->sheet->empty || stay < 0)
		return measure; /* it is the heaters that shine */
	if (source->line->view == VIEW_EXIT)
		return feature_passage(source, channel, stay);
	if (!heat.known)
		return measure;
	if (feature_is_stuck(source, channel, stay, part))
		return (struct measure){NAN, ABSENT_SENSOR_FAULT};
	measure = window_line_at(source->history, channel, part,
	    edge_time(sheet_heat_end(source->sheet)), NULL);
	if (measure.absent == ABSENT_NOT && summary->absent == ABSENT_NOT)
		summary->last = measure.value;
	return measure;
}

/* Mean over the good positions of one side, their spread (absent when a position is
 * missing), and each position. */
static void
exit_side(const struct feature_source *source, const struct oven_roles *oven, int side,
    struct shot *shot)
{
	static const int spread_of[2] = {
	    FEATURE_EXIT_SPREAD_TOP_DC, FEATURE_EXIT_SPREAD_BOTTOM_DC};
	static const int first_of[2] = {
	    FEATURE_EXIT_TOP_FIRST, FEATURE_EXIT_BOTTOM_FIRST};
	int count = oven->surface_count[side], good = 0;
	enum absent missing = ABSENT_NOT;
	double sum = 0.0, low = INFINITY, high = -INFINITY;

	if (count == 0)
		return;
	for (int i = 0; i < count; i++) {
		struct measure one = exit_surface(source, shot, oven->surface[side][i]);

		feature_put(shot, first_of[side] + i, one);
		if (one.absent != ABSENT_NOT) {
			missing = one.absent;
			continue;
		}
		good++;
		sum += one.value;
		low = fmin(low, one.value);
		high = fmax(high, one.value);
	}
	feature_put(shot, exit_of[side],
	    (struct measure){sum / good, good > 0 ? ABSENT_NOT : missing});
	feature_put(shot, spread_of[side],
	    (struct measure){high - low, count < 2 ? ABSENT_NOT_CONFIGURED : missing});
}

/* Mean slope of one side's pyrometers in the line's rate window. */
static struct measure
rate_side(const struct feature_source *source, const struct oven_roles *oven, int side)
{
	struct window heat = window_of(first_stay(source->sheet)), window = heat;
	struct measure last = {NAN, ABSENT_NOT_APPLICABLE};
	struct mono start = edge_time(sheet_heat_start(source->sheet));
	double sum = 0.0, slope;
	int good = 0;

	if (!heat.known || source->sheet->empty)
		return last;
	window.from.ns =
	    start.ns + (int64_t)(source->line->rate_from_s * (double)CLOCK_SECOND_NS);
	window.to.ns =
	    start.ns + (int64_t)(source->line->rate_to_s * (double)CLOCK_SECOND_NS);
	if (window.from.ns < heat.from.ns || window.to.ns > heat.to.ns)
		return last;
	for (int i = 0; i < oven->surface_count[side]; i++) {
		uint32_t channel = oven->surface[side][i];

		last = window_line_at(
		    source->history, channel, window, window.from, &slope);
		if (feature_is_stuck(source, channel, 0, window))
			last.absent = ABSENT_SENSOR_FAULT;
		if (last.absent == ABSENT_NOT) {
			sum += slope;
			good++;
		}
	}
	if (good == 0)
		return (struct measure){NAN, last.absent};
	return (struct measure){sum / good, ABSENT_NOT};
}

/* How the sheet left the last oven, and how it warmed up in the first. */
static void
surfaces(const struct feature_source *source, struct shot *shot)
{
	static const int rate_of[2] = {FEATURE_RATE_TOP, FEATURE_RATE_BOTTOM};
	const struct oven_roles *in = oven_of(source, first_stay(source->sheet), 0);
	const struct oven_roles *out =
	    oven_of(source, last_stay(source->sheet), source->roles->oven_count - 1);
	enum absent absent;

	for (int side = 0; side < 2; side++) {
		exit_side(source, out, side, shot);
		if (in->surface_count[side] > 0 && source->line->view == VIEW_OVEN)
			feature_put(shot, rate_of[side], rate_side(source, in, side));
	}
	if (out->surface_count[0] == 0 || out->surface_count[1] == 0)
		return;
	absent = shot->absent[exit_of[0]] != ABSENT_NOT ? shot->absent[exit_of[0]]
	                                                : shot->absent[exit_of[1]];
	feature_put(shot, FEATURE_EXIT_DIFFERENCE_DC,
	    (struct measure){
		shot->value[exit_of[0]] - shot->value[exit_of[1]], absent});
}

/* --- stack and ambient -------------------------------------------------------------- */

static void
stack(const struct feature_source *source, struct shot *shot)
{
	const struct edge *start = sheet_heat_start(source->sheet);
	struct measure measure = {NAN, ABSENT_NOT_APPLICABLE};

	if (source->roles->stack == ROLES_NONE)
		return;
	if (start->known)
		measure = window_value_at(
		    source->history, (uint32_t)source->roles->stack, edge_time(start));
	feature_put(shot, FEATURE_STACK_C, measure);
}

/* The mean of the hall over the heat. */
static void
ambient(const struct feature_source *source, struct shot *shot)
{
	const struct shot_channel *summary;

	if (source->roles->ambient == ROLES_NONE)
		return;
	summary = feature_summary(shot, (uint32_t)source->roles->ambient);
	feature_put(
	    shot, FEATURE_AMBIENT_C, (struct measure){summary->mean, summary->absent});
}

void
features_heat(const struct feature_source *source, struct shot *shot)
{
	surfaces(source, shot);
	stack(source, shot);
	ambient(source, shot);
}
