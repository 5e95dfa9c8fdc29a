/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The levels of a line's bits over time, and what their pulses show.  Pure.
 */
#ifndef DAEMON_SHOT_DUTY_LOG_H
#define DAEMON_SHOT_DUTY_LOG_H

#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum {
	DUTY_BITS = 32,  /* of a line */
	DUTY_LOG = 1024, /* states kept */
};

/* All bits from a moment on; bit i of the masks is bit i of the line. */
struct duty_state {
	struct mono at;
	uint32_t on, known;
};

struct duty_log {
	size_t count;
	struct duty_state states[DUTY_LOG]; /* in the order of time */
};

bool duty_is_on(const struct duty_state *state, int bit);
bool duty_is_known(const struct duty_state *state, int bit);

/* From one state to another; negative when that is earlier. */
double duty_span_s(const struct duty_log *log, size_t from, size_t to);

/* From a rise to a fall, states [rise] and [fall]; rise > 0. */
struct duty_pulse {
	size_t rise, fall;
};

/* The next whole pulse that rises behind state `*from`, through no time in which the bit
 * was not known; `*from` is then where to go on.  False when there is none. */
bool duty_pulse_next(
    const struct duty_log *log, int bit, size_t *from, struct duty_pulse *pulse);

/* How often it was seen to come on; whether it was seen at one level only. */
size_t duty_rises(const struct duty_log *log, int bit);
bool duty_is_constant(const struct duty_log *log, int bit);

/* Medians: of the pulses of a bit; from the rise, or fall, of one of a to the rise of b
 * before the next one of a.  NAN when there is none. */
double duty_pulse_s(const struct duty_log *log, int bit);
double duty_gap_s(const struct duty_log *log, int a, bool rise, int b);

/* Whether a bit was on for at least that share of a pulse of another. */
bool duty_was_on(
    const struct duty_log *log, const struct duty_pulse *pulse, int bit, double share);

/* Whether a bit rises, or falls, in a pulse of another, or within `slack_s` of it. */
bool duty_has_edge(const struct duty_log *log, const struct duty_pulse *pulse, int bit,
    bool rise, double slack_s);

/* Whether a bit changes in a pulse of another, more than `slack_s` from its ends. */
bool duty_changes(const struct duty_log *log, const struct duty_pulse *pulse, int bit,
    double slack_s);

#endif
