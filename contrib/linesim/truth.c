/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/truth.h"

#include <math.h>

#include "contrib/linesim/script.h"
#include "daemon/base/calendar.h"
#include "daemon/base/text.h"

#define J_PER_KWH 3.6e6

enum { STAYS_TOLD = 4 }; /* the times of so many */

static const char *const face_names[SHEET_FACES] = {"top", "bottom"};

void
passage_init(struct passage *passage, int64_t number)
{
	*passage = (struct passage){.number = number,
	    .loaded = TRUTH_NEVER,
	    .heat_start = TRUTH_NEVER,
	    .sagged = TRUTH_NEVER,
	    .heat_end = TRUTH_NEVER,
	    .form_start = TRUTH_NEVER,
	    .form_end = TRUTH_NEVER,
	    .form_before = TRUTH_NEVER,
	    .left = TRUTH_NEVER};
	for (int zone = 0; zone < TOOL_ZONES; zone++)
		passage->water_j[zone] = NAN;
}

const char *
passage_class(const struct passage *passage)
{
	if (!passage->had_sheet)
		return "empty";
	if (passage->scrapped)
		return "scrapped";
	if (passage->form_start == TRUTH_NEVER)
		return "aborted";
	if (passage->interrupted)
		return "interrupted";
	if (passage->reheated)
		return "reheated";
	return passage->by_timer ? "timer_release" : "complete";
}

void
tool_sums_add(struct tool_sums *sums, const struct tool *tool, double supply_c)
{
	bool first = sums->count++ == 0;
	double low = tool->c[0], high = tool->c[0], mean = 0;

	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		double c = tool->c[zone];
		low = fmin(low, c);
		high = fmax(high, c);
		mean += c / TOOL_ZONES;
		sums->c[zone] += c;
		sums->min_c[zone] = first ? c : fmin(sums->min_c[zone], c);
		sums->max_c[zone] = first ? c : fmax(sums->max_c[zone], c);
		sums->return_c[zone] += tool->return_c[zone];
	}
	sums->supply_c += supply_c;
	sums->spread_dc += high - low;
	if (first)
		sums->spread_start_dc = high - low;
	sums->mean_min_c = first ? mean : fmin(sums->mean_min_c, mean);
	sums->mean_max_c = first ? mean : fmax(sums->mean_max_c, mean);
}

/* --- a row, kept in one place with its header: a NULL passage gives the header --- */

struct row {
	const struct truth *truth;
	const struct passage *passage;
	struct text text;
};

static void
put_cell(struct row *row, const char *name, const char *value)
{
	if (row->text.length > 0)
		text_puts(&row->text, ",");
	text_puts(&row->text, row->passage == NULL ? name : value);
}

static void
put_integer(struct row *row, const char *name, int64_t value)
{
	char digits[24];

	snprintf(digits, sizeof digits, "%lld", (long long)value);
	put_cell(row, name, digits);
}

/* Blank unless `known`. */
static void
put_number(struct row *row, const char *name, bool known, double value, int digits)
{
	char text[48] = "";

	if (known)
		snprintf(text, sizeof text, "%.*f", digits, value);
	put_cell(row, name, text);
}

static void
put_time(struct row *row, const char *name, int64_t step)
{
	char text[CALENDAR_TEXT] = "";

	if (step != TRUTH_NEVER) {
		struct wall wall = {
		    row->truth->start.ns + step * (CLOCK_SECOND_NS / 10)};
		calendar_utc_text(wall, 3, text);
	}
	put_cell(row, name, text);
}

static void
put_span(struct row *row, const char *name, int64_t from, int64_t to)
{
	bool known = from != TRUTH_NEVER && to != TRUTH_NEVER;

	put_number(row, name, known, (double)(to - from) * TRUTH_STEP_S, 1);
}

static void
put_flags(struct row *row, uint32_t touched)
{
	struct text flags;

	text_init(&flags, 512);
	for (int kind = 0; kind < EVENT_KIND_COUNT; kind++)
		if (touched & UINT32_C(1) << kind)
			text_printf(&flags, "%s%s", flags.length > 0 ? "+" : "",
			    event_name(kind));
	put_cell(row, "events", flags.bytes == NULL ? "" : flags.bytes);
	text_release(&flags);
}

static void
put_times(struct row *row, const struct passage *p)
{
	put_time(row, "loaded_at", p->loaded);
	put_time(row, "heat_start_at", p->heat_start);
	put_time(row, "sag_at", p->sagged);
	put_time(row, "heat_end_at", p->heat_end);
	put_time(row, "form_start_at", p->form_start);
	put_time(row, "form_end_at", p->form_end);
	put_time(row, "left_at", p->left);
	put_span(row, "heat_s", p->heat_start, p->heat_end);
	put_span(row, "sag_s", p->heat_start, p->sagged);
	put_span(row, "transfer_s", p->heat_end, p->form_start);
	put_span(row, "form_s", p->form_start, p->form_end);
	put_span(row, "cycle_s", p->form_before, p->form_start);
}

static void
put_surfaces(struct row *row, const char *suffix, bool known,
    const double c[SHEET_FACES][PYROMETERS_A_SIDE])
{
	char name[48];

	for (int face = 0; face < SHEET_FACES; face++)
		for (int i = 0; i < PYROMETERS_A_SIDE; i++) {
			snprintf(name, sizeof name, "exit_%s_%d_%s", face_names[face],
			    i + 1, suffix);
			put_number(row, name, known, c[face][i], 3);
		}
}

static void
put_heat(struct row *row, const struct passage *p)
{
	bool heated = p->had_sheet && p->heat_end != TRUTH_NEVER;
	bool formed = p->form_start != TRUTH_NEVER;
	bool timed = p->heat_end != TRUTH_NEVER;

	put_number(row, "start_c", p->had_sheet, p->start_c, 3);
	put_number(row, "stack_c", p->had_sheet, p->stack_c, 3);
	put_number(row, "thickness_mm", p->had_sheet, p->thickness_m * 1e3, 4);
	put_number(row, "melt_flow_ratio", p->had_sheet, p->fluidity, 4);
	put_surfaces(row, "true_c", heated, p->at_heat_end.true_c);
	put_surfaces(row, "indicated_c", heated, p->indicated_c);
	put_number(row, "core_heat_end_c", heated, p->at_heat_end.core_c, 3);
	put_number(row, "core_mean_heat_end_c", heated, p->at_heat_end.core_mean_c, 3);
	put_number(row, "core_form_start_c", formed, p->at_form_start.core_c, 3);
	put_number(
	    row, "core_mean_form_start_c", formed, p->at_form_start.core_mean_c, 3);
	put_number(row, "sheet_mean_form_start_c", formed, p->at_form_start.mean_c, 3);
	put_number(row, "sag_m", heated, p->sag_m, 4);
	for (int face = 0; face < SHEET_FACES; face++) {
		char name[48];
		snprintf(name, sizeof name, "energy_output_%s_kwh", face_names[face]);
		put_number(row, name, timed, p->stated_j[face] / J_PER_KWH, 5);
		snprintf(name, sizeof name, "energy_true_%s_kwh", face_names[face]);
		put_number(row, name, timed, p->true_j[face] / J_PER_KWH, 5);
	}
}

static double
range(const double values[TOOL_ZONES], double *mean)
{
	double low = values[0], high = values[0];

	*mean = 0;
	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		low = fmin(low, values[zone]);
		high = fmax(high, values[zone]);
		*mean += values[zone] / TOOL_ZONES;
	}
	return high - low;
}

static void
put_zones(struct row *row, const char *prefix, const char *suffix, bool known,
    const double values[TOOL_ZONES])
{
	char name[48];

	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		snprintf(name, sizeof name, "%s_%d_%s", prefix, zone + 1, suffix);
		put_number(row, name, known, values[zone], 3);
	}
}

static void
put_tool(struct row *row, const struct passage *p)
{
	const struct tool_sums *sums = &p->tool;
	const double *offset_dc = row->truth->tool_offset_dc[p->side];
	bool known = sums->count > 0;
	double count = known ? (double)sums->count : 1, mean_c, shown_mean_c;
	double true_c[TOOL_ZONES], shown_c[TOOL_ZONES], rise_dc[TOOL_ZONES], swing = 0;

	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		true_c[zone] = sums->c[zone] / count;
		shown_c[zone] = true_c[zone] + offset_dc[zone];
		rise_dc[zone] = (sums->return_c[zone] - sums->supply_c) / count;
		swing = fmax(swing, sums->max_c[zone] - sums->min_c[zone]);
	}
	double spread = range(true_c, &mean_c), shown = range(shown_c, &shown_mean_c);
	put_number(row, "given_kj", p->form_start != TRUTH_NEVER, p->given_j / 1e3, 3);
	put_zones(row, "tool", "true_c", known, true_c);
	put_zones(row, "tool", "indicated_c", known, shown_c);
	put_number(row, "tool_mean_true_c", known, mean_c, 3);
	put_number(row, "tool_mean_indicated_c", known, shown_mean_c, 3);
	put_number(row, "spread_of_means_true_dc", known, spread, 4);
	put_number(row, "spread_of_means_indicated_dc", known, shown, 4);
	put_number(row, "spread_start_true_dc", known, sums->spread_start_dc, 4);
	put_number(row, "spread_mean_true_dc", known, sums->spread_dc / count, 4);
	put_number(
	    row, "swing_of_mean_dc", known, sums->mean_max_c - sums->mean_min_c, 4);
	put_number(row, "swing_largest_dc", known, swing, 4);
	put_number(row, "supply_c", known, sums->supply_c / count, 3);
	put_zones(row, "rise", "dc", known, rise_dc);
}

/* What a logger computes and cannot measure. */
static void
put_inside(struct row *row, const struct passage *p)
{
	bool heated = p->had_sheet && p->heat_end != TRUTH_NEVER;
	bool formed = p->form_start != TRUTH_NEVER;
	char name[48];

	put_number(row, "conductivity_w_mk", p->had_sheet, p->conductivity, 5);
	put_number(row, "emissivity", p->had_sheet, p->emissivity, 4);
	put_number(row, "core_seen_heat_end_c", heated, p->at_heat_end.core_seen_c, 3);
	put_number(row, "mean_seen_heat_end_c", heated, p->at_heat_end.mean_seen_c, 3);
	put_number(
	    row, "core_seen_form_start_c", formed, p->at_form_start.core_seen_c, 3);
	put_number(
	    row, "mean_seen_form_start_c", formed, p->at_form_start.mean_seen_c, 3);
	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		snprintf(name, sizeof name, "water_%d_kj", zone + 1);
		put_number(
		    row, name, !isnan(p->water_j[zone]), p->water_j[zone] / 1e3, 3);
	}
}

/* What a plain rotary has nothing to tell of, all but once in a while. */
static void
put_way(struct row *row, const struct passage *p)
{
	const struct stay *stays = p->stays;
	int64_t gap = 0;

	for (int i = 1; i < p->stay_count; i++)
		gap += stays[i].in - stays[i - 1].out;
	put_cell(row, "side", row->truth->sides[p->side]);
	put_integer(row, "stays", p->stay_count);
	put_number(row, "heat_gap_s", p->heat_end != TRUTH_NEVER,
	    (double)gap * TRUTH_STEP_S, 1);
	for (int i = 1; i < STAYS_TOLD; i++) {
		bool there = i < p->stay_count;
		char name[48];

		snprintf(name, sizeof name, "heat_%d_end_at", i);
		put_time(row, name, there ? stays[i - 1].out : TRUTH_NEVER);
		snprintf(name, sizeof name, "heat_%d_start_at", i + 1);
		put_time(row, name, there ? stays[i].in : TRUTH_NEVER);
	}
}

static void
put_row(const struct truth *truth, const struct passage *passage)
{
	struct passage nothing;
	struct row row = {.truth = truth, .passage = passage};
	const struct passage *p = passage;

	if (truth->file == NULL)
		return;
	if (p == NULL) {
		passage_init(&nothing, 0);
		p = &nothing;
	}
	text_init(&row.text, 8192);
	put_integer(&row, "sheet", p->number);
	put_cell(&row, "class", passage_class(p));
	put_flags(&row, p->touched);
	put_cell(&row, "lot", p->lot);
	put_times(&row, p);
	put_heat(&row, p);
	put_tool(&row, p);
	put_way(&row, p);
	put_inside(&row, p);
	text_puts(&row.text, "\n");
	fwrite(row.text.bytes, 1, row.text.length, truth->file);
	fflush(truth->file);
	text_release(&row.text);
}

void
truth_write_header(const struct truth *truth)
{
	put_row(truth, NULL);
}

void
truth_write(const struct truth *truth, const struct passage *passage)
{
	put_row(truth, passage);
}
