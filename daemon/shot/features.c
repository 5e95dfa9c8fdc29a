/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/features.h"

#include "daemon/shot/features_inside.h"

#include <assert.h>
#include <math.h>

void
feature_put(struct shot *shot, int feature, struct measure measure)
{
	shot->value[feature] = measure.absent == ABSENT_NOT ? measure.value : NAN;
	shot->absent[feature] = (unsigned char)measure.absent;
}

/* A duration: a number, or not applicable to this shot. */
static void
put_span(struct shot *shot, int feature, double span_s)
{
	feature_put(shot, feature,
	    (struct measure){
		span_s, isnan(span_s) ? ABSENT_NOT_APPLICABLE : ABSENT_NOT});
}

/* --- channels ----------------------------------------------------------------------- */

struct shot_channel *
feature_summary(const struct shot *shot, uint32_t channel)
{
	size_t i = 0;

	while (shot->channels[i].channel != channel) {
		i++;
		assert(i < shot->channel_count);
	}
	return &shot->channels[i];
}

static bool
hangs_on_oven(enum role role)
{
	return role == ROLE_SURFACE_TOP || role == ROLE_SURFACE_BOTTOM ||
	       role == ROLE_ZONE_TOP || role == ROLE_ZONE_BOTTOM ||
	       role == ROLE_OVEN_AIR;
}

static bool
seen_in_heat(enum role role)
{
	return hangs_on_oven(role) || role == ROLE_STACK || role == ROLE_AMBIENT ||
	       role == ROLE_ENERGY_METER || role == ROLE_SET_POINT;
}

/* Whether a feature is made from it, so that its coverage counts. */
static bool
is_used(enum role role)
{
	return role != ROLE_OTHER && role != ROLE_SET_POINT;
}

/* The last stay in an oven, or -1. */
static int
last_stay(const struct sheet *sheet, int oven)
{
	int stay = sheet->stay_count - 1;

	while (stay >= 0 && sheet->stays[stay].oven != oven)
		stay--;
	return stay;
}

/* One stay as an oven's channel saw it: some pyrometers see the sheet only as it leaves. */
static struct window
stay_window(const struct feature_source *source, enum role role, int stay)
{
	bool surface = role == ROLE_SURFACE_TOP || role == ROLE_SURFACE_BOTTOM;

	return surface && source->line->view == VIEW_EXIT
	           ? sheet_exit(source->sheet, stay)
	           : sheet_stay_window(&source->sheet->stays[stay]);
}

/* When a channel is summarised: an oven's while the sheet was in it for the last time, what is
 * read as a heat begins from then on. */
static struct window
window_of(const struct feature_source *source, const struct channel_settings *channel)
{
	const struct sheet *sheet = source->sheet;
	int stay;

	if (!seen_in_heat(channel->role) && !channel->at_heat)
		return sheet_form(sheet);
	if (!hangs_on_oven(channel->role))
		return sheet_heat(sheet);
	stay = last_stay(sheet, channel->oven);
	if (stay < 0)
		return (struct window){.known = false};
	return stay_window(source, channel->role, stay);
}

static void
summarise_channels(const struct feature_source *source, struct shot *shot)
{
	shot->channel_count = source->roles->all_count;
	for (size_t i = 0; i < source->roles->all_count; i++) {
		uint32_t channel = source->roles->all[i];

		shot->channels[i] = window_summary(source->history, channel,
		    window_of(source, &source->settings->channels[channel]),
		    source->line->coverage_min);
	}
}

struct shot_channel
feature_stay_summary(const struct feature_source *source, const struct shot *shot,
    uint32_t channel, int stay)
{
	const struct sheet *sheet = source->sheet;

	if (stay == last_stay(sheet, sheet->stays[stay].oven))
		return *feature_summary(shot, channel);
	return window_summary(source->history, channel,
	    stay_window(source, source->settings->channels[channel].role, stay),
	    source->line->coverage_min);
}

/* The coverage of one channel, an oven's over all stays in it; 1 when there was none. */
static double
coverage_of(const struct feature_source *source, const struct shot *shot, size_t i)
{
	uint32_t channel = shot->channels[i].channel;
	const struct channel_settings *settings = &source->settings->channels[channel];
	const struct sheet *sheet = source->sheet;
	int last = last_stay(sheet, settings->oven);
	double least = shot->channels[i].coverage;

	if (!hangs_on_oven(settings->role))
		return least;
	if (last < 0)
		return 1.0;
	for (int s = 0; s < last; s++)
		if (sheet->stays[s].oven == settings->oven)
			least = fmin(least,
			    feature_stay_summary(source, shot, channel, s).coverage);
	return least;
}

static void
coverage(const struct feature_source *source, struct shot *shot)
{
	double least[2] = {INFINITY, INFINITY};
	bool known[2] = {
	    sheet_heat(source->sheet).known, sheet_form(source->sheet).known};

	for (size_t i = 0; i < shot->channel_count; i++) {
		enum role role =
		    source->settings->channels[shot->channels[i].channel].role;
		int window = seen_in_heat(role) ? 0 : 1;

		if (is_used(role))
			least[window] =
			    fmin(least[window], coverage_of(source, shot, i));
	}
	for (int w = 0; w < 2; w++)
		if (isfinite(least[w]))
			feature_put(shot,
			    w == 0 ? FEATURE_HEAT_COVERAGE : FEATURE_FORM_COVERAGE,
			    (struct measure){least[w],
				known[w] ? ABSENT_NOT : ABSENT_NOT_APPLICABLE});
}

/* --- times -------------------------------------------------------------------------- */

/*
 * The cycle that ends with this form start, and its parts: platens closed on the sheet
 * before; open and waiting, first for the sag, then for the operator or the line; on its
 * way from the oven to the form station; closing.  They add up to the cycle.
 */
static void
cycle(const struct feature_source *source, bool sag_eye, struct shot *shot)
{
	const struct sheet *sheet = source->sheet;
	double limit_s = roles_edge_limit_s(source->settings, source->roles);
	const struct edge *heat_end = sheet_heat_end(sheet);
	double cycle_s = edge_span_s(&sheet->last_form_start, &sheet->form_start);
	double wait_s = edge_span_s(&sheet->last_form_end, heat_end);
	double sag_s = edge_span_s(&sheet->last_form_end, &sheet->sag);

	if (!(wait_s >= 0.0) || !sheet->arrived.known ||
	    edge_uncertainty_s(&sheet->last_form_start) > limit_s ||
	    edge_uncertainty_s(&sheet->last_form_end) > limit_s)
		cycle_s = wait_s = NAN;
	if (!sag_eye)
		sag_s = 0.0;
	else if (isnan(sag_s))
		sag_s = wait_s;
	sag_s = fmin(fmax(sag_s, 0.0), wait_s);
	put_span(shot, FEATURE_CYCLE_S, cycle_s);
	put_span(shot, FEATURE_CYCLE_FORMING_S,
	    isnan(cycle_s)
		? NAN
		: edge_span_s(&sheet->last_form_start, &sheet->last_form_end));
	put_span(shot, FEATURE_CYCLE_WAIT_SAG_S, isnan(cycle_s) ? NAN : sag_s);
	put_span(
	    shot, FEATURE_CYCLE_WAIT_LINE_S, isnan(cycle_s) ? NAN : wait_s - sag_s);
	put_span(shot, FEATURE_CYCLE_INDEX_S,
	    isnan(cycle_s) ? NAN : edge_span_s(heat_end, &sheet->arrived));
	put_span(shot, FEATURE_CYCLE_CLOSING_S,
	    isnan(cycle_s) ? NAN : edge_span_s(&sheet->arrived, &sheet->form_start));
}

static void
times(const struct feature_source *source, struct shot *shot)
{
	const struct sheet *sheet = source->sheet;
	const struct edge *heat_start = sheet_heat_start(sheet);
	const struct edge *heat_end = sheet_heat_end(sheet);
	double heat_s = edge_span_s(heat_start, heat_end);
	bool sag_eye = source->roles->bit[ROLE_SAG_EYE] != ROLES_NONE;

	put_span(shot, FEATURE_HEAT_S, heat_s);
	put_span(
	    shot, FEATURE_HEAT_GAP_S, isnan(heat_s) ? NAN : sheet_heat_gap_s(sheet));
	if (sag_eye) {
		put_span(shot, FEATURE_SAG_S, edge_span_s(heat_start, &sheet->sag));
		put_span(shot, FEATURE_SOAK_WAIT_S, edge_span_s(&sheet->sag, heat_end));
	}
	put_span(shot, FEATURE_TRANSFER_S, edge_span_s(heat_end, &sheet->form_start));
	put_span(
	    shot, FEATURE_FORM_S, edge_span_s(&sheet->form_start, &sheet->form_end));
	cycle(source, sag_eye, shot);
}

void
features_compute(const struct feature_source *source, struct shot *shot)
{
	summarise_channels(source, shot);
	times(source, shot);
	features_heat(source, shot);
	features_energy(source, shot);
	features_core(source, shot);
	features_form(source, shot);
	features_water(source, shot);
	coverage(source, shot);
}
