/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether two are about the same machine: about what runs on while others come into
 * force, pollers, trackers and the sheets in them.  What a shot is computed with as it is
 * made is taken from the settings of that moment and may differ: tolerances, lags,
 * exchange of heat, coolant, recipes, materials, limits.
 */
#include "conf/settings.h"

#include <math.h>
#include <string.h>

/* Both told and the same, or neither. */
static bool
is_same_level(double a, double b)
{
	return isnan(a) ? isnan(b) : a == b;
}

static bool
are_same_stations(const struct line_settings *a, const struct line_settings *b)
{
	if (a->machine != b->machine || a->station_count != b->station_count ||
	    a->side_count != b->side_count)
		return false;
	for (int i = 0; i < a->station_count; i++)
		if (strcmp(a->stations[i].name, b->stations[i].name) != 0)
			return false;
	for (int i = 0; i < a->side_count; i++)
		if (strcmp(a->sides[i], b->sides[i]) != 0)
			return false;
	return true;
}

static bool
is_same_line(const struct line_settings *a, const struct line_settings *b)
{
	return strcmp(a->name, b->name) == 0 && are_same_stations(a, b) &&
	       a->heat_min_s == b->heat_min_s && a->heat_max_s == b->heat_max_s &&
	       a->form_limit_s == b->form_limit_s && a->form_min_s == b->form_min_s &&
	       a->startup_shots == b->startup_shots &&
	       a->startup_after_s == b->startup_after_s &&
	       a->rate_from_s == b->rate_from_s && a->rate_to_s == b->rate_to_s &&
	       a->coverage_min == b->coverage_min && a->view == b->view;
}

static bool
is_same_device(const struct device_settings *a, const struct device_settings *b)
{
	if (strcmp(a->name, b->name) != 0 || a->line != b->line || a->bus != b->bus ||
	    a->unit_id != b->unit_id || a->gap_s != b->gap_s ||
	    a->period_s != b->period_s || a->timeout_s != b->timeout_s ||
	    a->max_registers != b->max_registers || a->hole_count != b->hole_count ||
	    a->channel_count != b->channel_count)
		return false;
	for (int i = 0; i < a->hole_count; i++)
		if (a->holes[i].table != b->holes[i].table ||
		    a->holes[i].first != b->holes[i].first ||
		    a->holes[i].last != b->holes[i].last)
			return false;
	return true;
}

static bool
is_same_bus(const struct bus_settings *a, const struct bus_settings *b)
{
	return a->kind == b->kind && a->port == b->port && a->baud == b->baud &&
	       a->parity == b->parity && a->stop_bits == b->stop_bits &&
	       a->rs485 == b->rs485 && strcmp(a->name, b->name) == 0 &&
	       strcmp(a->host, b->host) == 0 && strcmp(a->path, b->path) == 0;
}

static bool
is_same_channel(const struct channel_settings *a, const struct channel_settings *b)
{
	if (strcmp(a->name, b->name) != 0 || a->device != b->device ||
	    a->role != b->role || a->position != b->position || a->oven != b->oven ||
	    a->side != b->side || a->table != b->table || a->address != b->address ||
	    a->encoding != b->encoding || a->order != b->order || a->bit != b->bit ||
	    a->inverted != b->inverted || a->scale != b->scale ||
	    a->offset != b->offset || a->unit != b->unit || a->min_si != b->min_si ||
	    a->max_si != b->max_si || !is_same_level(a->on_si, b->on_si) ||
	    !is_same_level(a->off_si, b->off_si) || a->rated_w != b->rated_w ||
	    a->debounce_s != b->debounce_s || a->sentinel_count != b->sentinel_count ||
	    a->period_s != b->period_s || a->at_heat != b->at_heat ||
	    a->frozen_after_s != b->frozen_after_s ||
	    a->fault_channel != b->fault_channel)
		return false;
	for (int i = 0; i < a->sentinel_count; i++)
		if (a->sentinels[i] != b->sentinels[i])
			return false;
	return true;
}

bool
settings_same_machine(const struct settings *a, const struct settings *b)
{
	if (strcmp(a->site, b->site) != 0 || a->line_count != b->line_count ||
	    a->device_count != b->device_count || a->bus_count != b->bus_count ||
	    a->channel_count != b->channel_count)
		return false;
	for (size_t i = 0; i < a->bus_count; i++)
		if (!is_same_bus(a->buses + i, b->buses + i))
			return false;
	for (size_t i = 0; i < a->line_count; i++)
		if (!is_same_line(a->lines + i, b->lines + i))
			return false;
	for (size_t i = 0; i < a->device_count; i++)
		if (!is_same_device(a->devices + i, b->devices + i))
			return false;
	for (size_t i = 0; i < a->channel_count; i++)
		if (!is_same_channel(a->channels + i, b->channels + i))
			return false;
	return true;
}
