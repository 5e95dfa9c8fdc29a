/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/timeline.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/text.h"

static struct step *
add(struct timeline *timeline, const char *name)
{
	struct step *step = &timeline->steps[timeline->count++];

	*step = (struct step){.after_s = NAN, .lasts_s = NAN, .within_s = NAN};
	text_copy(step->name, sizeof step->name, name);
	return step;
}

/* --- from edges -------------------------------------------------------------------- */

/* A step from one edge to another; left out when nobody saw it begin. */
static void
add_span(struct timeline *timeline, const char *name, const struct edge *zero,
    const struct edge *from, const struct edge *to)
{
	if (!from->known)
		return;
	struct step *step = add(timeline, name);
	step->at = from->wall;
	step->after_s = edge_span_s(zero, from);
	if (!to->known)
		return;
	step->lasts_s = edge_span_s(from, to);
	/* each edge lies within half its own uncertainty */
	step->within_s = (edge_uncertainty_s(from) + edge_uncertainty_s(to)) / 2;
}

static void
name_stay(const struct line_settings *line, const struct stay *stay,
    char name[static SETTINGS_NAME + 16])
{
	int oven = 0;

	snprintf(name, SETTINGS_NAME + 16, "heat");
	for (int i = 0; line->oven_count > 1 && i < line->station_count; i++)
		if (line->stations[i].kind == STATION_OVEN && oven++ == stay->oven)
			snprintf(name, SETTINGS_NAME + 16, "heat in %s",
			    line->stations[i].name);
}

void
timeline_of_sheet(struct timeline *timeline, const struct sheet *sheet,
    const struct line_settings *line)
{
	static const struct edge none;
	const struct edge *zero = sheet_heat_start(sheet);
	const struct edge *end = sheet_heat_end(sheet);

	timeline->count = 0;
	add_span(timeline, "loaded", zero, &sheet->loaded, zero);
	for (int i = 0; i < sheet->stay_count; i++) {
		const struct stay *stay = &sheet->stays[i];
		char name[SETTINGS_NAME + 16];
		if (i > 0)
			add_span(timeline, "gap", zero, &stay[-1].out, &stay->in);
		name_stay(line, stay, name);
		add_span(timeline, name, zero, &stay->in, &stay->out);
	}
	add_span(timeline, "sagged", zero, &sheet->sag, &none);
	add_span(timeline, "transfer", zero, end, &sheet->form_start);
	add_span(timeline, "form", zero, &sheet->form_start, &sheet->form_end);
	if (sheet->left_wall.ns != 0)
		add(timeline, "gone")->at = sheet->left_wall;
}

/* --- from what is on file ------------------------------------------------------------ */

static void
add_filed(struct timeline *timeline, const char *name, const struct ledger_shot *shot,
    struct wall at, double lasts_s)
{
	if (at.ns == 0)
		return;
	struct step *step = add(timeline, name);
	step->at = at;
	if (shot->heat_start_at.ns != 0)
		step->after_s =
		    (double)(at.ns - shot->heat_start_at.ns) / (double)CLOCK_SECOND_NS;
	step->lasts_s = lasts_s;
	if (!isnan(lasts_s))
		step->within_s = shot->uncertainty_s;
}

void
timeline_of_shot(struct timeline *timeline, const struct ledger_shot *shot)
{
	bool known = shot->loaded_at.ns != 0 && shot->heat_start_at.ns != 0;
	double waited_s = (double)(shot->heat_start_at.ns - shot->loaded_at.ns) /
	                  (double)CLOCK_SECOND_NS;

	timeline->count = 0;
	add_filed(timeline, "loaded", shot, shot->loaded_at, known ? waited_s : NAN);
	add_filed(
	    timeline, "heat", shot, shot->heat_start_at, shot->value[FEATURE_HEAT_S]);
	add_filed(timeline, "transfer", shot, shot->heat_end_at,
	    shot->value[FEATURE_TRANSFER_S]);
	add_filed(
	    timeline, "form", shot, shot->form_start_at, shot->value[FEATURE_FORM_S]);
	add_filed(timeline, "gone", shot, shot->closed_at, NAN);
}

const struct step *
timeline_at(const struct timeline *timeline, double after_s)
{
	for (size_t i = timeline->count; i-- > 0;) {
		const struct step *step = &timeline->steps[i];
		if (after_s >= step->after_s && after_s < step->after_s + step->lasts_s)
			return step;
	}
	return NULL;
}
