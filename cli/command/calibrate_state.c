/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_state.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

enum {
	DATE = sizeof "2026-03-02", /* with its NUL */
	NAMED_MOST = 8,             /* overdue channels told by name */
};

static const double same = 1e-9; /* two corrections */

struct reading_state {
	const struct settings *settings;
	struct calibrate_held *held;
	struct wall at, known; /* what was entered later is not known */
};

static uint32_t
line_of(const struct settings *settings, size_t channel)
{
	return settings->devices[settings->channels[channel].device].line;
}

static bool
is_of(const struct settings *settings, size_t channel,
    const struct ledger_calibration *row)
{
	const struct channel_settings *one = &settings->channels[channel];
	const struct device_settings *device = &settings->devices[one->device];

	return strcmp(one->name, row->channel) == 0 &&
	       strcmp(device->name, row->device) == 0 &&
	       strcmp(settings->lines[device->line].name, row->line) == 0;
}

/* Of two with the same time the later entered holds: it has the higher id. */
static int
take_row(void *arg, const struct ledger_calibration *row)
{
	const struct reading_state *state = arg;

	if (row->at.ns > state->at.ns || row->entered.ns > state->known.ns)
		return 0;
	for (size_t i = 0; i < state->settings->channel_count; i++) {
		struct calibrate_held *held = &state->held[i];
		if (!is_of(state->settings, i, row))
			continue;
		if (held->id == 0 || row->at.ns > held->at.ns ||
		    (row->at.ns == held->at.ns && row->id > held->id))
			*held = (struct calibrate_held){
			    row->id, row->at, row->due, row->as_found, row->as_left};
		break;
	}
	return 0;
}

static int
read_state(const struct reading_state *state, struct ledger_read *ledger, int line,
    struct error *error)
{
	const struct settings *settings = state->settings;
	const char *name = line >= 0 ? settings->lines[line].name : NULL;
	struct reading_state own = *state;

	for (size_t i = 0; i < settings->channel_count; i++)
		state->held[i] =
		    (struct calibrate_held){.as_found = NAN, .as_left = NAN};
	return ledger_read_calibrations(ledger, name, take_row, &own, error);
}

int
calibrate_state_read(struct calibrate_held *held, struct ledger_read *ledger,
    const struct settings *settings, int line, struct wall at, struct error *error)
{
	const struct reading_state state = {settings, held, at, {INT64_MAX}};

	return read_state(&state, ledger, line, error);
}

/* What readings are corrected by; before any calibration nothing. */
static double
correction(const struct calibrate_held *held)
{
	return held->id != 0 ? held->as_left : 0;
}

int
calibrate_changes(const struct settings *settings, int line, struct ledger_read *ledger,
    const struct calibrate_span *span, struct calibrate_change *changes,
    struct error *error)
{
	size_t count = settings->channel_count;
	struct calibrate_held *before = calloc(2 * count + 1, sizeof *before);
	struct calibrate_held *after = before ? before + count : NULL;
	int code;

	if (!before)
		return error_set(error, ERROR_MEMORY, "out of memory");
	const struct reading_state was = {settings, before, span->from, span->known};
	code = read_state(&was, ledger, line, error);
	if (code == 0)
		code = calibrate_state_read(
		    after, ledger, settings, line, span->to, error);
	for (size_t i = 0; i < count && code == 0; i++) {
		double was_off = correction(&before[i]), is_off = correction(&after[i]);
		changes[i] = (struct calibrate_change){
		    .changed = !(fabs(is_off - was_off) < same),
		    .at = after[i].at,
		    .before = was_off,
		    .after = is_off,
		};
	}
	free(before);
	return code;
}

int
calibrate_since(const struct settings *settings, int line, struct ledger_read *ledger,
    const struct calibrate_span *span, char words[static CALIBRATE_WORDS],
    struct error *error)
{
	size_t count = settings->channel_count;
	struct calibrate_change *changes = calloc(count + 1, sizeof *changes);
	char name[CALIBRATE_NAME];

	words[0] = '\0';
	if (!changes)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code = calibrate_changes(settings, line, ledger, span, changes, error);
	for (size_t i = 0; i < count && code == 0; i++) {
		size_t length = strlen(words);
		if (!changes[i].changed)
			continue;
		calibrate_name(settings, i, name);
		snprintf(words + length, CALIBRATE_WORDS - length, "%s%s",
		    length ? ", " : "", name);
	}
	free(changes);
	return code;
}

bool
calibrate_is_overdue(struct wall due, struct wall at)
{
	if (due.ns == 0)
		return false;
	struct calendar_date after = calendar_date_add(calendar_date_of(due), 1);
	return at.ns >= calendar_local(after, 0).ns;
}

bool
calibrate_is_sensor(const struct channel_settings *channel)
{
	switch (channel->role) {
	case ROLE_SURFACE_TOP:
	case ROLE_SURFACE_BOTTOM:
	case ROLE_OVEN_AIR:
	case ROLE_TOOL:
	case ROLE_WATER_SUPPLY:
	case ROLE_WATER_RETURN:
	case ROLE_WATER_FLOW:
	case ROLE_ENERGY_METER:
	case ROLE_STACK:
	case ROLE_AMBIENT:
		return true;
	case ROLE_ROTATING:
	case ROLE_FORM_CLOSED:
	case ROLE_OVEN_IN:
	case ROLE_CLAMP_CLOSED:
	case ROLE_SHEET_IN_FRAME:
	case ROLE_SAG_EYE:
	case ROLE_SHEET_AT_LOAD:
	case ROLE_SHEET_AT_FORM:
	case ROLE_AUTOMATIC:
	case ROLE_FAULT:
	case ROLE_CYCLE_COUNT:
	case ROLE_RECIPE:
	case ROLE_ZONE_TOP:
	case ROLE_ZONE_BOTTOM:
	case ROLE_SET_POINT:
	case ROLE_OTHER:
	case ROLE_COUNT:
		return false;
	}
	return false;
}

void
calibrate_name(
    const struct settings *settings, size_t channel, char name[static CALIBRATE_NAME])
{
	const struct channel_settings *one = &settings->channels[channel];

	snprintf(name, CALIBRATE_NAME, "%s.%s", settings->devices[one->device].name,
	    one->name);
}

int64_t
calibrate_find(const struct settings *settings, const char *name)
{
	char known[CALIBRATE_NAME];

	for (size_t i = 0; i < settings->channel_count; i++) {
		calibrate_name(settings, i, known);
		if (strcmp(known, name) == 0)
			return (int64_t)i;
	}
	return -1;
}

/* --- in words ----------------------------------------------------------------------- */

struct counted {
	int sensors, calibrated, overdue;
	size_t next; /* the channel that is due next */
	bool any_due;
};

static struct counted
count(const struct settings *settings, int line, const struct calibrate_held *held,
    struct wall at, struct text *overdue)
{
	struct counted counted = {0};
	char name[CALIBRATE_NAME];

	for (size_t i = 0; i < settings->channel_count; i++) {
		bool sensor = calibrate_is_sensor(&settings->channels[i]);
		if (line_of(settings, i) != (uint32_t)line ||
		    (!sensor && held[i].id == 0))
			continue;
		counted.sensors++;
		counted.calibrated += held[i].id != 0;
		if (held[i].due.ns == 0)
			continue;
		if (calibrate_is_overdue(held[i].due, at)) {
			calibrate_name(settings, i, name);
			if (counted.overdue++ < NAMED_MOST)
				text_printf(
				    overdue, "%s%s", overdue->length ? ", " : "", name);
		} else if (!counted.any_due ||
			   held[i].due.ns < held[counted.next].due.ns) {
			counted.next = i;
			counted.any_due = true;
		}
	}
	return counted;
}

int
calibrate_overdue(const struct settings *settings, int line,
    const struct calibrate_held *held, struct wall at,
    char words[static CALIBRATE_WORDS])
{
	struct text overdue;

	text_init(&overdue, CALIBRATE_WORDS);
	const struct counted counted = count(settings, line, held, at, &overdue);
	if (counted.overdue > NAMED_MOST)
		text_printf(&overdue, " and %d more", counted.overdue - NAMED_MOST);
	text_copy(words, CALIBRATE_WORDS, overdue.bytes ? overdue.bytes : "");
	text_release(&overdue);
	return counted.overdue;
}

void
calibrate_words(const struct settings *settings, int line,
    const struct calibrate_held *held, struct wall at,
    char words[static CALIBRATE_WORDS])
{
	struct text overdue, all;
	char name[CALIBRATE_NAME], day[CALENDAR_TEXT];

	text_init(&overdue, CALIBRATE_WORDS);
	text_init(&all, 2 * CALIBRATE_WORDS);
	const struct counted counted = count(settings, line, held, at, &overdue);
	if (counted.calibrated == 0)
		text_printf(&all, "none of %d sensors", counted.sensors);
	else
		text_printf(
		    &all, "%d of %d sensors", counted.calibrated, counted.sensors);
	if (counted.any_due) {
		calendar_local_text(held[counted.next].due, day);
		day[DATE - 1] = '\0';
		calibrate_name(settings, counted.next, name);
		text_printf(&all, ", the next due %s (%s)", day, name);
	}
	if (counted.overdue > 0)
		text_printf(&all, "; overdue: %s", overdue.bytes);
	if (counted.overdue > NAMED_MOST)
		text_printf(&all, " and %d more", counted.overdue - NAMED_MOST);
	text_copy(words, CALIBRATE_WORDS, all.bytes ? all.bytes : "");
	text_release(&all);
	text_release(&overdue);
}
