/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shot_inside.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "daemon/heat/water.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { CELL = 48, TITLE = 48 };

/* --- the sheet ------------------------------------------------------------------------ */

/* A figure of the inside and half of its 95 % interval. */
static const struct {
	const char *what, *when;
	int value, band;
} banded[] = {
    {"core", "heat end", FEATURE_CORE_HEAT_END_C, FEATURE_CORE_HEAT_END_BAND_DC},
    {"core", "form start", FEATURE_CORE_FORM_START_C, FEATURE_CORE_FORM_START_BAND_DC},
    {"mean", "heat end", FEATURE_SHEET_MEAN_HEAT_END_C,
	FEATURE_SHEET_MEAN_HEAT_END_BAND_DC},
    {"mean", "form start", FEATURE_SHEET_MEAN_FORM_START_C,
	FEATURE_SHEET_MEAN_FORM_START_BAND_DC},
    {"surface less core", "heat end", FEATURE_SURFACE_CORE_DC,
	FEATURE_SURFACE_CORE_BAND_DC},
};

/* Figures beside them. */
static const struct {
	const char *label;
	int value;
} plain[] = {
    {"soak index", FEATURE_SOAK_INDEX},
    {"Fourier number", FEATURE_FOURIER},
    {"above the material's limit", FEATURE_ABOVE_LIMIT_S},
    {"computed with a thickness of", FEATURE_SHEET_THICKNESS_MM},
};

static bool
is_there(const struct ledger_shot *shot, int feature)
{
	return isfinite(shot->value[feature]);
}

/* "304.2 +- 13.7 F". */
static void
band_words(const struct settings *settings, const struct ledger_shot *shot, int value,
    int band, char words[static CELL])
{
	const char *unit = shown_unit(settings, value);
	const struct cell is = shown_value(settings, value, shot->value[value]);
	const struct cell half = shown_value(settings, band, shot->value[band]);

	if (is_there(shot, band))
		snprintf(words, CELL, "%.1f +- %.1f %s", is.shown, half.shown, unit);
	else
		snprintf(words, CELL, "%.1f %s, band unknown", is.shown, unit);
}

static bool
has_inside(const struct ledger_shot *shot)
{
	for (size_t i = 0; i < COUNT(banded); i++)
		if (is_there(shot, banded[i].value))
			return true;
	return false;
}

static void
put_for_machines(struct page *page, const struct settings *settings,
    const struct ledger_shot *shot, int feature)
{
	page_field(page, feature_get(feature)->name, NULL,
	    shown_value(settings, feature, shot->value[feature]));
}

static void
put_plain(
    struct page *page, const struct settings *settings, const struct ledger_shot *shot)
{
	for (size_t i = 0; i < COUNT(plain); i++) {
		int id = plain[i].value;
		char words[CELL];
		if (!is_there(shot, id))
			continue;
		struct cell cell = shown_value(settings, id, shot->value[id]);
		const char *unit = shown_unit(settings, id);
		snprintf(words, sizeof words, "%.*f%s%s", cell.digits, cell.shown,
		    *unit ? " " : "", unit);
		cell.instead = words;
		page_field(page, feature_get(id)->name, plain[i].label, cell);
	}
}

static void
put_sheet(
    struct page *page, const struct settings *settings, const struct ledger_shot *shot)
{
	if (!has_inside(shot))
		return;
	page_open(page, GROUP_OBJECT, "inside",
	    "Inside of the sheet (computed; +- is half of the 95 % interval)");
	for (size_t i = 0; i < COUNT(banded); i++) {
		char words[CELL], label[TITLE];
		if (!is_there(shot, banded[i].value))
			continue;
		band_words(settings, shot, banded[i].value, banded[i].band, words);
		snprintf(
		    label, sizeof label, "%s at %s", banded[i].what, banded[i].when);
		page_field(page, NULL, label, cell_words(words));
		put_for_machines(page, settings, shot, banded[i].value);
		put_for_machines(page, settings, shot, banded[i].band);
	}
	put_plain(page, settings, shot);
	page_field(
	    page, "properties", "with the properties", shown_name(shot->properties));
	page_close(page);
}

/* --- the water ------------------------------------------------------------------------- */

/* The families of a circuit, in the order of the columns. */
static const struct {
	const char *key, *title;
	int first;
} families[] = {
    {"water_flow_l_min", "flow", FEATURE_WATER_FLOW_FIRST},
    {"water_rise_dc", "rise", FEATURE_WATER_RISE_FIRST},
    {"heat_removed_kwh", "heat", FEATURE_HEAT_REMOVED_FIRST},
    {"reynolds", "Reynolds", FEATURE_REYNOLDS_FIRST},
    {"water_resistance_k_per_kw", "resistance", FEATURE_RESISTANCE_FIRST},
    {"tool_mean_c", "tool", FEATURE_TOOL_MEAN_FIRST},
    {"recovery_s", "recovery", FEATURE_RECOVERY_FIRST},
};
enum {
	HEAT = 2,
	REYNOLDS = 3,
	FAMILIES = COUNT(families),
	WATER_COLUMNS = FAMILIES + 2
};

/* A circuit, or a tool sensor with the same position. */
static bool
has_circuit(const struct ledger_shot *shot, int position)
{
	for (size_t k = 0; k < FAMILIES; k++)
		if (is_there(shot, families[k].first + position))
			return true;
	return false;
}

static void
put_circuit(struct page *page, const struct settings *settings,
    const struct ledger_shot *shot, int position)
{
	struct cell cells[WATER_COLUMNS];
	size_t n = 0;

	cells[n++] = cell_count(position + 1);
	for (size_t k = 0; k < FAMILIES; k++) {
		int id = families[k].first + position;
		cells[n] = shown_value(settings, id, shot->value[id]);
		if (!is_there(shot, id))
			cells[n].words =
			    shot->absent[id] == ABSENT_NOT_CONFIGURED ? "" : "-";
		n++;
		if (k == REYNOLDS)
			cells[n++] = cell_words(
			    is_there(shot, id) ? water_regime(shot->value[id]) : "");
	}
	page_row(page, cells);
}

static void
put_circuits(
    struct page *page, const struct settings *settings, const struct ledger_shot *shot)
{
	struct column columns[WATER_COLUMNS] = {{"circuit", "circuit", 0}};
	char titles[FAMILIES][TITLE];
	size_t n = 1;

	for (size_t k = 0; k < FAMILIES; k++) {
		const char *unit = shown_unit(settings, families[k].first);
		snprintf(titles[k], TITLE, "%s%s%s", families[k].title,
		    *unit ? " " : "", unit);
		columns[n++] = (struct column){families[k].key, titles[k], 0};
		if (k == REYNOLDS)
			columns[n++] = (struct column){"regime", "flow is", 0};
	}
	page_table(page, "circuits",
	    "Water and tool by circuit (flow, heat, Reynolds, resistance: tool's "
	    "cycle)",
	    columns, n);
	for (int position = 0; position < FEATURE_CIRCUITS_MAX; position++)
		if (has_circuit(shot, position))
			put_circuit(page, settings, shot, position);
	page_table_end(page);
}

/* What the sheet brought, and what the water took away of it. */
static const struct {
	const char *label;
	int value;
} balance[] = {
    {"water supply", FEATURE_WATER_SUPPLY_C},
    {"heat the water took away", FEATURE_HEAT_REMOVED_KWH},
    {"heat the sheet brought (computed)", FEATURE_HEAT_BROUGHT_KWH},
    {"water's share of it", FEATURE_HEAT_BALANCE},
};

static void
put_balance(
    struct page *page, const struct settings *settings, const struct ledger_shot *shot)
{
	for (size_t i = 0; i < COUNT(balance); i++) {
		int id = balance[i].value;
		char words[CELL];
		if (!is_there(shot, id))
			continue;
		struct cell cell = shown_value(settings, id, shot->value[id]);
		snprintf(words, sizeof words, "%.*f %s", cell.digits, cell.shown,
		    shown_unit(settings, id));
		cell.instead = words;
		page_field(page, NULL, balance[i].label, cell);
	}
}

void
shot_inside_put(
    struct page *page, const struct settings *settings, const struct ledger_shot *shot)
{
	put_sheet(page, settings, shot);
	put_circuits(page, settings, shot);
	put_balance(page, settings, shot);
}

bool
shot_inside_shows(const struct ledger_shot *shot, int feature)
{
	if (!is_there(shot, feature))
		return false; /* why not stands beside its meaning */
	for (size_t i = 0; i < COUNT(banded); i++)
		if (feature == banded[i].value ||
		    (feature == banded[i].band && is_there(shot, banded[i].value)))
			return true;
	for (size_t i = 0; i < COUNT(plain); i++)
		if (feature == plain[i].value)
			return has_inside(shot);
	for (size_t i = 0; i < COUNT(balance); i++)
		if (feature == balance[i].value)
			return true;
	for (size_t k = 0; k < FAMILIES; k++)
		if (feature >= families[k].first &&
		    feature < families[k].first + FEATURE_CIRCUITS_MAX)
			return true;
	return false;
}
