/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/duty.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/scan.h"
#include "daemon/shot/duty_judge.h"
#include "daemon/shot/duty_rules.h"
#include "daemon/shot/edge.h"
#include "daemon/shot/scanned.h"

#define SILENT_PERIODS 4.0 /* a bit unread for this many polls ... */
#define SILENT_LEAST_S 5.0 /* ... and this long is not known */

enum { PACE_LEAD = 3 }; /* so many moves of the other side: it is the one that works */

struct line_bit {
	uint32_t channel;
	struct bit bit; /* debounced */
	bool seen;      /* before debouncing */
	struct mono heard;
};

struct duty {
	const struct settings *settings; /* lent */
	uint32_t line;
	struct duty_wiring wiring;
	struct line_bit bits[DUTY_BITS];
	int32_t counter; /* tells the moves of a ring without the bit; -1: not needed */
	int64_t count;   /* its last value; -1 unknown */
	int pace, lead;  /* the bit whose rises begin cycles (-1: none yet); rises of
	                    another one since */
	struct mono now; /* of the last scan */
	size_t start_count;
	struct mono starts[DUTY_CYCLES + 1];
	struct duty_log log;
};

/* --- what a line has ------------------------------------------------------------------ */

static void
add_channel(struct duty *duty, uint32_t channel)
{
	const struct channel_settings *settings = &duty->settings->channels[channel];
	int i = duty->wiring.bit_count;

	if (settings->role == ROLE_CYCLE_COUNT)
		duty->counter = (int32_t)channel;
	if (settings->role >= ROLE_CYCLE_COUNT || i == DUTY_BITS)
		return;
	duty->wiring.bits[i].role = settings->role;
	duty->wiring.bits[i].side = settings->side;
	duty->wiring.bit_count++;
	duty->bits[i].channel = channel;
	bit_init(&duty->bits[i].bit, settings->debounce_s);
}

struct duty *
duty_new(const struct settings *settings, uint32_t line)
{
	struct duty *duty = calloc(1, sizeof(*duty));

	if (duty == NULL)
		return NULL;
	duty->settings = settings;
	duty->line = line;
	duty->wiring.machine = settings->lines[line].machine;
	duty->wiring.side_count = settings->lines[line].side_count;
	/* Into the second of two ovens a sheet comes hot. */
	if (settings->lines[line].oven_count == 1)
		duty->wiring.sag_least_s = settings->lines[line].heat_min_s;
	duty->counter = duty->pace = -1;
	duty->count = -1;
	for (size_t i = 0; i < settings->channel_count; i++)
		if (settings->devices[settings->channels[i].device].line == line)
			add_channel(duty, (uint32_t)i);
	if (duty->wiring.machine != MACHINE_ROTARY)
		duty->counter = -1;
	for (int i = 0; i < duty->wiring.bit_count; i++)
		if (duty->wiring.bits[i].role == ROLE_ROTATING)
			duty->counter = -1;
	return duty;
}

void
duty_free(struct duty *duty)
{
	free(duty);
}

/* --- the log --------------------------------------------------------------------------- */

static void
drop_states(struct duty_log *log, size_t count)
{
	log->count -= count;
	memmove(log->states, log->states + count, log->count * sizeof(log->states[0]));
}

/* Lets go of what lies before the oldest cycle; the state that it began with stays. */
static void
drop_old(struct duty *duty)
{
	size_t old = 0;

	while (old + 1 < duty->log.count &&
	       duty->log.states[old + 1].at.ns < duty->starts[0].ns)
		old++;
	drop_states(&duty->log, old);
}

static void
drop_start(struct duty *duty)
{
	duty->start_count--;
	memmove(duty->starts, duty->starts + 1,
	    duty->start_count * sizeof(duty->starts[0]));
}

static void
begin_cycle(struct duty *duty, struct mono at)
{
	if (duty->start_count == DUTY_CYCLES + 1)
		drop_start(duty);
	duty->starts[duty->start_count++] = at;
	drop_old(duty);
}

static void
keep_state(struct duty *duty, struct mono at, uint32_t on, uint32_t known)
{
	struct duty_log *log = &duty->log;

	if (log->count > 0 && log->states[log->count - 1].on == on &&
	    log->states[log->count - 1].known == known)
		return;
	if (log->count == DUTY_LOG) {
		drop_states(log, DUTY_LOG / 2);
		while (
		    duty->start_count > 0 && duty->starts[0].ns < log->states[0].at.ns)
			drop_start(duty);
	}
	log->states[log->count++] = (struct duty_state){at, on, known};
}

/* --- taking scans ------------------------------------------------------------------------ */

/* The good reading of a channel in this scan, or NULL. */
static const struct reading *
good_reading(const struct duty *duty, const struct scan *scan, uint32_t channel)
{
	return scanned_good(duty->settings, scan, channel);
}

/* A mover came on.  On a shuttle of two sides the one that works sets the pace. */
static void
take_move(struct duty *duty, int bit, struct mono at)
{
	if (duty->pace >= 0 && duty->pace != bit && ++duty->lead < PACE_LEAD)
		return;
	if (duty->pace != bit)
		duty->start_count = 0;
	duty->pace = bit;
	duty->lead = 0;
	begin_cycle(duty, at);
}

static void
take_counter(struct duty *duty, const struct scan *scan)
{
	const struct reading *reading =
	    duty->counter < 0 ? NULL
			      : good_reading(duty, scan, (uint32_t)duty->counter);

	if (reading == NULL)
		return;
	if (duty->count >= 0 && (int64_t)reading->value == duty->count + 1)
		begin_cycle(duty, scan->at);
	duty->count = (int64_t)reading->value;
}

/* Whether it rose. */
static bool
take_bit(struct duty *duty, struct line_bit *bit, const struct scan *scan)
{
	const struct reading *reading = good_reading(duty, scan, bit->channel);
	struct edge edge;

	if (reading == NULL)
		return false;
	bit->seen = bit_level(
	    &duty->settings->channels[bit->channel], reading->value, bit->seen);
	bit->heard = scan->at;
	return bit_take(&bit->bit, bit->seen, scan->sent, scan->at, scan->wall,
		   &edge) == BIT_ROSE;
}

static bool
is_known(const struct duty *duty, const struct line_bit *bit)
{
	double period_s = duty->settings->channels[bit->channel].period_s;
	double silent_s =
	    (double)(duty->now.ns - bit->heard.ns) / (double)CLOCK_SECOND_NS;

	return bit->bit.known &&
	       silent_s <= fmax(SILENT_PERIODS * period_s, SILENT_LEAST_S);
}

void
duty_scan(struct duty *duty, const struct scan *scan)
{
	uint32_t on = 0, known = 0;
	int moved = -1;

	if (scan->device >= duty->settings->device_count ||
	    duty->settings->devices[scan->device].line != duty->line)
		return;
	duty->now = scan->at;
	for (int i = 0; i < duty->wiring.bit_count; i++) {
		struct line_bit *bit = &duty->bits[i];
		enum role role = duty->wiring.bits[i].role;

		if (take_bit(duty, bit, scan) &&
		    (role == ROLE_ROTATING || role == ROLE_OVEN_IN))
			moved = i;
		if (!is_known(duty, bit))
			continue;
		known |= UINT32_C(1) << i;
		on |= (uint32_t)bit->bit.level << i;
	}
	keep_state(duty, scan->at, on, known);
	if (moved >= 0)
		take_move(duty, moved, scan->at);
	take_counter(duty, scan);
}

/* --- telling ------------------------------------------------------------------------------ */

int
duty_cycles(const struct duty *duty)
{
	return duty->start_count > 0 ? (int)duty->start_count - 1 : 0;
}

struct mono
duty_until(const struct duty *duty)
{
	int cycles = duty_cycles(duty);

	return cycles > 0 ? duty->starts[cycles] : (struct mono){0};
}

/* Share and changes over the whole cycles, or over everything before there is one. */
static void
measure(const struct duty *duty, int bit, struct duty_bit *to)
{
	const struct duty_log *log = &duty->log;
	int cycles = duty_cycles(duty);
	int64_t from = cycles > 0 ? duty->starts[0].ns : 0;
	int64_t end = cycles > 0 ? duty_until(duty).ns : duty->now.ns;
	int64_t on_ns = 0, known_ns = 0;
	int changes = 0;

	for (size_t i = 0; i < log->count; i++) {
		const struct duty_state *state = &log->states[i];
		int64_t since = state->at.ns > from ? state->at.ns : from;
		int64_t until = i + 1 < log->count && log->states[i + 1].at.ns < end
		                    ? log->states[i + 1].at.ns
		                    : end;

		if (!duty_is_known(state, bit) || until < since)
			continue;
		known_ns += until - since;
		if (duty_is_on(state, bit))
			on_ns += until - since;
		if (i > 0 && state->at.ns > from &&
		    duty_is_known(&log->states[i - 1], bit) &&
		    duty_is_on(state, bit) != duty_is_on(&log->states[i - 1], bit))
			changes++;
	}
	if (known_ns > 0)
		to->on = (double)on_ns / (double)known_ns;
	if (cycles > 0)
		to->changes = (double)changes / cycles;
}

static const char *
turn_round(const struct channel_settings *channel)
{
	if (!isnan(channel->on_si))
		return "on_at and off_at the other way round";
	return channel->inverted ? "inverted = no" : "inverted = yes";
}

static void
write_remark(const struct duty *duty, const struct duty_finding *finding,
    const struct channel_settings *channel, char remark[static DUTY_TEXT])
{
	const char *other =
	    finding->other < 0
		? ""
		: duty->settings->channels[duty->bits[finding->other].channel].name;

	switch (finding->verdict) {
	case DUTY_FINE:
		break;
	case DUTY_INVERTED:
		if (finding->other < 0)
			snprintf(remark, DUTY_TEXT, "looks inverted (%s): try %s",
			    finding->why, turn_round(channel));
		else
			snprintf(remark, DUTY_TEXT,
			    "looks inverted, or swapped with '%s' (%s)", other,
			    finding->why);
		break;
	case DUTY_SWAPPED:
		snprintf(remark, DUTY_TEXT, "looks swapped with '%s' (%s)", other,
		    finding->why);
		break;
	case DUTY_CONSTANT:
		snprintf(remark, DUTY_TEXT,
		    "never changes: is it wired, and is the address right?");
		break;
	case DUTY_ODD:
		snprintf(remark, DUTY_TEXT, "%s: is this the right bit?", finding->why);
		break;
	}
}

size_t
duty_bits(const struct duty *duty, struct duty_bit *bits, size_t room)
{
	struct duty_wiring wiring = duty->wiring;
	struct duty_finding findings[DUTY_BITS];

	if (duty->counter >= 0)
		wiring.counted = (size_t)duty_cycles(duty);
	duty_judge(&wiring, &duty->log, findings);
	for (int i = 0; i < duty->wiring.bit_count && (size_t)i < room; i++) {
		const struct line_bit *bit = &duty->bits[i];

		bits[i] = (struct duty_bit){.channel = bit->channel,
		    .known = is_known(duty, bit),
		    .level = bit->bit.level,
		    .on = NAN,
		    .changes = NAN};
		measure(duty, i, &bits[i]);
		write_remark(duty, &findings[i],
		    &duty->settings->channels[bit->channel], bits[i].remark);
	}
	return (size_t)duty->wiring.bit_count;
}
