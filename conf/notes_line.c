/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes_line.h"

#include <math.h>
#include <stdint.h>
#include <stdio.h>

#include "conf/machine.h"
#include "conf/note.h"
#include "conf/settings.h"

enum { SIDE_TEXT = SETTINGS_NAME + 16 };

/* Common practice, no source. */
static const double status_period_s = 1; /* of bits that tell what moves */
static const double debounce_most_s = 3; /* a ring may be round by a station in this */
static const double heat_min_most = 0.8; /* of the timer: sheets sag well before it */

/* What is less certain makes a shot partial, as a rule: polls of the bits are so far apart. */
static const double edge_most_s = 5;

/* --- what tells their way ------------------------------------------------------------- */

/* The channel of one of the roles on a side of a line (its own, or common to both);
 * NULL when there is none. */
static const struct channel_settings *
channel_of(const struct settings *settings, uint32_t line, int side, uint32_t roles)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];

		if (settings->devices[channel->device].line == line &&
		    (roles & MACHINE_ROLE(channel->role)) &&
		    (channel->side < 0 || channel->side == side))
			return channel;
	}
	return NULL;
}

/* " on side left", or "" where a line has but one. */
static const char *
side_text(const struct line_settings *line, int side, char text[static SIDE_TEXT])
{
	text[0] = '\0';
	if (line->side_count > 1)
		snprintf(text, SIDE_TEXT, " on side %s", line->sides[side]);
	return text;
}

/* Without a sign of an empty frame nobody knows whether the sheet in it is a new one. */
static void
tell_returns(const struct notes *notes, uint32_t line, int side)
{
	const struct line_settings *settings = &notes->settings->lines[line];
	uint32_t roles = machine_get(settings->machine)->returns;
	char list[NOTE_ROLES], on_side[SIDE_TEXT];

	if (channel_of(notes->settings, line, side, roles))
		return;
	note(notes,
	    "line %s has no channel of role %s%s: an empty frame counts as a sheet, "
	    "and a sheet that is heated again as a new one",
	    settings->name, note_roles(roles, list),
	    side_text(settings, side, on_side));
}

static bool
is_read_with(const struct channel_settings *one, const struct channel_settings *other)
{
	return one->device == other->device &&
	       !islessgreater(one->period_s, other->period_s);
}

/* Edges of one sheet that come from several polls. */
static void
tell_devices(const struct notes *notes, uint32_t line, int side)
{
	const struct settings *settings = notes->settings;
	uint32_t moves = machine_get(settings->lines[line].machine)->moves;
	const struct channel_settings *first = NULL;
	char on_side[SIDE_TEXT];

	for (int role = 0; role < ROLE_COUNT; role++) {
		const struct channel_settings *channel =
		    channel_of(settings, line, side, moves & MACHINE_ROLE(role));

		if (!first)
			first = channel;
		if (!channel || is_read_with(channel, first))
			continue;
		if (channel->device == first->device) {
			note(notes,
			    "line %s reads %s every %g s and %s every %g s%s: which "
			    "came first is known to a poll of both alone; give both "
			    "the same 'period_ms'",
			    settings->lines[line].name, role_text(first->role),
			    first->period_s, role_text(channel->role),
			    channel->period_s,
			    side_text(&settings->lines[line], side, on_side));
			return;
		}
		note(notes,
		    "line %s reads %s and %s from different devices%s: which came "
		    "first is known to a poll of both alone; read them from one device "
		    "when "
		    "it has them",
		    settings->lines[line].name, role_text(first->role),
		    role_text(channel->role),
		    side_text(&settings->lines[line], side, on_side));
		return;
	}
}

/* How the indexes of a ring are seen. */
static void
tell_indexes(const struct notes *notes, uint32_t line)
{
	const struct settings *settings = notes->settings;
	const char *name = settings->lines[line].name;
	const struct channel_settings *rotating =
	    channel_of(settings, line, 0, MACHINE_ROLE(ROLE_ROTATING));

	if (settings->lines[line].machine != MACHINE_ROTARY)
		return;
	if (!rotating)
		note(notes,
		    "line %s has no channel of role rotating: the time in which the "
		    "frames move on counts as heat",
		    name);
	else if (!channel_of(settings, line, 0, MACHINE_ROLE(ROLE_CYCLE_COUNT)))
		note(notes,
		    "line %s has no channel of role cycle_count: an index between two "
		    "polls goes unseen%s",
		    name,
		    rotating->debounce_s > 0
			? ""
			: ", and a stop in the middle of one counts as two; where the "
			  "frames stop on the way, write 'debounce_ms' for rotating");
}

/* The counter tells the indexes of a silence, the eye not what it did not see. */
static void
tell_eye(const struct notes *notes, uint32_t line)
{
	const struct settings *settings = notes->settings;
	const struct channel_settings *eye =
	    channel_of(settings, line, 0, MACHINE_ROLE(ROLE_SHEET_AT_LOAD));
	const struct channel_settings *counter =
	    channel_of(settings, line, 0, MACHINE_ROLE(ROLE_CYCLE_COUNT));
	const struct channel_settings *mover =
	    channel_of(settings, line, 0, MACHINE_ROLE(ROLE_ROTATING));

	if (!mover)
		mover = counter;
	if (settings->lines[line].machine != MACHINE_ROTARY || !eye || !counter ||
	    eye->device == mover->device)
		return;
	note(notes,
	    "line %s reads sheet_at_load and %s from different devices: while one of "
	    "them is silent cycle_count tells of the indexes, but nobody of a sheet "
	    "that is taken off; read them from one device when it has them",
	    settings->lines[line].name, role_text(mover->role));
}

/* --- how closely they are followed ---------------------------------------------------- */

/* The first channel of the device that tells of its line's sheets and is read too seldom;
 * NULL when there is none. */
static const struct channel_settings *
seldom_channel(const struct settings *settings, const struct device_settings *device)
{
	uint32_t moves = machine_get(settings->lines[device->line].machine)->moves;

	for (uint32_t i = 0; i < device->channel_count; i++) {
		const struct channel_settings *channel =
		    &settings->channels[device->first_channel + i];

		if ((moves & MACHINE_ROLE(channel->role)) &&
		    channel->period_s > status_period_s)
			return channel;
	}
	return NULL;
}

static void
tell_period(const struct notes *notes, const struct device_settings *device)
{
	const struct channel_settings *channel =
	    seldom_channel(notes->settings, device);

	if (!channel)
		return;
	note(notes,
	    "device %s is polled every %g s and tells of %s: what moves is known to "
	    "that alone, and a few polls without an answer hide several moves%s; write "
	    "'period_ms' of %.0f or less, 500 as a rule",
	    device->name, channel->period_s, role_text(channel->role),
	    channel->period_s > edge_most_s
		? "; shots whose times are known no better than that may be partial"
		: "",
	    status_period_s * 1000);
}

static void
tell_debounce(const struct notes *notes, const struct channel_settings *channel)
{
	const struct device_settings *device =
	    &notes->settings->devices[channel->device];
	const struct line_settings *line = &notes->settings->lines[device->line];
	double debounce_s = channel->debounce_s;

	if (!(machine_get(line->machine)->moves & MACHINE_ROLE(channel->role)))
		return;
	if (channel->role == ROLE_FORM_CLOSED && line->form_min_s > 0 &&
	    debounce_s > line->form_min_s)
		note(notes,
		    "channel %s.%s: 'debounce_ms' is %.0f, but platens closed for %g s "
		    "form a sheet ('form_min_s'): one formed in less than the debounce "
		    "is not seen; write as long as the bit blinks, no longer",
		    device->name, channel->name, debounce_s * 1000, line->form_min_s);
	else if (debounce_s > debounce_most_s)
		note(notes,
		    "channel %s.%s: 'debounce_ms' is %.0f: a %s that is over in less "
		    "is not seen; write as long as the bit blinks, no longer",
		    device->name, channel->name, debounce_s * 1000,
		    role_text(channel->role));
}

/* A shortest heat near the timer, which is the line's or, in `of`, a recipe's. */
static void
tell_heat_min(const struct notes *notes, const struct line_settings *line,
    double timer_s, const char *of)
{
	if (line->heat_min_s > heat_min_most * timer_s)
		note(notes,
		    "line %s: 'heat_min_s' is %g, near to 'heat_timer_s' of %g%s: a "
		    "sheet that sags before that counts as not heated; write well less "
		    "than the shortest good heat",
		    line->name, line->heat_min_s, timer_s, of);
}

static void
tell_heat_mins(const struct notes *notes, const struct line_settings *line)
{
	tell_heat_min(notes, line, line->heat_max_s, "");
	for (size_t i = 0; i < notes->settings->recipe_count; i++) {
		const struct recipe_settings *recipe = &notes->settings->recipes[i];
		char of[32];

		snprintf(of, sizeof of, " of recipe %d", recipe->number);
		if (!isnan(recipe->heat_max_s))
			tell_heat_min(notes, line, recipe->heat_max_s, of);
	}
}

/* --- all ------------------------------------------------------------------------------ */

void
notes_line_tell(const struct notes *notes)
{
	const struct settings *settings = notes->settings;

	for (uint32_t line = 0; line < settings->line_count; line++) {
		tell_indexes(notes, line);
		tell_eye(notes, line);
		for (int side = 0; side < settings->lines[line].side_count; side++) {
			tell_returns(notes, line, side);
			tell_devices(notes, line, side);
		}
		tell_heat_mins(notes, &settings->lines[line]);
	}
	for (size_t i = 0; i < settings->device_count; i++)
		tell_period(notes, &settings->devices[i]);
	for (size_t i = 0; i < settings->channel_count; i++)
		tell_debounce(notes, &settings->channels[i]);
}
