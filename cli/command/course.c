/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/course.h"

#include <math.h>
#include <stdlib.h>

#include "daemon/base/error.h"
#include "daemon/shot/pack.h"
#include "daemon/shot/roles.h"
#include "daemon/shot/scanned.h"
#include "daemon/shot/trace.h"

#define BEFORE_S TRACE_MARGIN_S /* before the heat, where nobody saw it loaded */
#define FEW_ROWS 20

/* The last good reading of a channel. */
struct latest {
	double value;
	struct mono at; /* ns 0: none yet */
};

struct maker {
	struct course *course;
	const struct settings *settings;
	const struct sheet *sheet;
	struct roles roles;
	struct latest *latest; /* by channel */
	double next_s, end_s;  /* the next row, and where they end */
};

static double
after_s(const struct maker *maker, struct mono at)
{
	return (double)(at.ns - maker->course->zero_at.ns) / (double)CLOCK_SECOND_NS;
}

/* --- one row ------------------------------------------------------------------------ */

/* The channel's value at `at`: its last reading, unless polls are missing since. */
static double
value_at(const struct maker *maker, int64_t channel, struct mono at)
{
	if (channel < 0)
		return NAN;
	const struct latest *latest = &maker->latest[channel];
	double reach_s = fmax(WINDOW_GAP_LEAST_S,
	    WINDOW_GAP_PERIODS * maker->settings->channels[channel].period_s);
	double age_s = (double)(at.ns - latest->at.ns) / (double)CLOCK_SECOND_NS;

	return latest->at.ns != 0 && age_s <= reach_s ? latest->value : NAN;
}

struct few {
	double sum, least, most;
	int count;
};

static void
add(struct few *few, double value)
{
	if (isnan(value))
		return;
	few->least = few->count == 0 ? value : fmin(few->least, value);
	few->most = few->count == 0 ? value : fmax(few->most, value);
	few->sum += value;
	few->count++;
}

static void
add_channels(struct few *few, const struct maker *maker, const uint32_t *channels,
    int count, struct mono at)
{
	for (int i = 0; i < count; i++)
		add(few, value_at(maker, channels[i], at));
}

static double
mean_of(const struct few *few)
{
	return few->count > 0 ? few->sum / few->count : NAN;
}

/* The oven that the sheet is in at `at`; -1: none. */
static int
oven_at(const struct sheet *sheet, struct mono at)
{
	for (int i = 0; i < sheet->stay_count; i++) {
		const struct stay *stay = &sheet->stays[i];
		if (stay->in.known && at.ns >= edge_time(&stay->in).ns &&
		    (!stay->out.known || at.ns < edge_time(&stay->out).ns))
			return stay->oven;
	}
	return -1;
}

static void
fill_oven(const struct maker *maker, struct course_row *row, struct mono at)
{
	int oven = oven_at(maker->sheet, at);
	struct few surfaces[2] = {0}, zones = {0};

	if (oven < 0 || oven >= maker->roles.oven_count)
		return;
	const struct oven_roles *roles = &maker->roles.ovens[oven];
	for (int i = 0; i < 2; i++) {
		add_channels(&surfaces[i], maker, roles->surface[i],
		    roles->surface_count[i], at);
		add_channels(&zones, maker, roles->zone[i], roles->zone_count[i], at);
	}
	row->top_c = mean_of(&surfaces[0]);
	row->bottom_c = mean_of(&surfaces[1]);
	row->output = mean_of(&zones);
}

static void
fill_tool(const struct maker *maker, struct course_row *row, struct mono at)
{
	const struct roles *roles = &maker->roles;
	struct few tool = {0}, rise = {0};

	add_channels(&tool, maker, roles->tool, roles->tool_count, at);
	row->tool_c = mean_of(&tool);
	if (tool.count > 1 && tool.count == roles->tool_count)
		row->spread_dc = tool.most - tool.least;
	for (int i = 0; i < roles->circuit_count; i++)
		add(&rise, value_at(maker, roles->water_return[i], at) -
			       value_at(maker, roles->water_supply[i], at));
	row->rise_dc = mean_of(&rise);
}

static void
add_row(struct maker *maker)
{
	struct course *course = maker->course;
	struct course_row *row = &course->rows[course->count++];
	struct mono at = {course->zero_at.ns + (int64_t)(maker->next_s * 1e9)};

	*row = (struct course_row){maker->next_s, NAN, NAN, NAN, NAN, NAN, NAN};
	fill_oven(maker, row, at);
	fill_tool(maker, row, at);
	maker->next_s += course->step_s;
}

/* --- all of them ---------------------------------------------------------------------- */

struct mono
course_zero(const struct sheet *sheet, const char **name)
{
	const struct edge *heat = sheet_heat_start(sheet);

	if (heat->known) {
		*name = "heat start";
		return edge_time(heat);
	}
	if (sheet->form_start.known) {
		*name = "form start";
		return edge_time(&sheet->form_start);
	}
	*name = "end of the record";
	return sheet->left;
}

/* A whole number of a kind that people count in. */
static double
step_for(double span_s)
{
	static const double steps_s[] = {
	    1, 2, 5, 10, 15, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600, 7200};
	size_t last = sizeof steps_s / sizeof steps_s[0] - 1, i = 0;

	while (i < last && steps_s[i] * FEW_ROWS < span_s)
		i++;
	return steps_s[i];
}

static void
set_rows(struct maker *maker)
{
	const struct sheet *sheet = maker->sheet;
	struct course *course = maker->course;
	double begin_s = -BEFORE_S;

	if (sheet->loaded.known)
		begin_s = after_s(maker, edge_time(&sheet->loaded));
	maker->end_s = after_s(
	    maker, sheet->form_end.known ? edge_time(&sheet->form_end) : sheet->left);
	/* A sheet may wait for hours in its clamp: the oven is what matters. */
	if (sheet_heat_start(sheet)->known)
		begin_s = fmax(begin_s, -fmax(maker->end_s, BEFORE_S));
	course->step_s = step_for(maker->end_s - begin_s);
	maker->next_s = ceil(begin_s / course->step_s) * course->step_s;
}

static bool
is_wanted(const struct maker *maker)
{
	return maker->next_s <= maker->end_s && maker->course->count < COURSE_ROWS;
}

static int
take_scan(void *arg, const struct scan *scan)
{
	struct maker *maker = arg;
	uint32_t first = scanned_first(maker->settings, scan);

	while (is_wanted(maker) && maker->next_s < after_s(maker, scan->at))
		add_row(maker);
	for (uint32_t i = 0; i < scan->count; i++)
		if (scan->readings[i].quality == QUALITY_GOOD)
			maker->latest[first + i] =
			    (struct latest){scan->readings[i].value, scan->at};
	return 0;
}

int
course_read(struct course *course, const struct kept *kept, uint32_t line, int side,
    struct error *error)
{
	struct maker maker = {
	    .course = course, .settings = kept->made, .sheet = &kept->sheet};
	struct pack_reader reader = {kept->taken, kept->made, take_scan, &maker};

	*course = (struct course){0};
	course->zero_at = course_zero(&kept->sheet, &course->zero);
	int code = roles_init(&maker.roles, kept->made, line, side < 0 ? 0 : side);
	if (code == 0) {
		maker.latest =
		    calloc(kept->made->channel_count + 1, sizeof *maker.latest);
		set_rows(&maker);
		code = maker.latest
		           ? trace_scans(kept->bytes, kept->byte_count, &reader, error)
		           : ERROR_MEMORY;
		while (code == 0 && is_wanted(&maker))
			add_row(&maker);
		free(maker.latest);
		roles_release(&maker.roles);
	}
	return code == ERROR_MEMORY ? error_set(error, code, "out of memory") : code;
}
