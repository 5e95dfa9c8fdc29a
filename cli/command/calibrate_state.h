/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the ledger says of the calibration of a line's sensors at one time.
 */
#ifndef CLI_COMMAND_CALIBRATE_STATE_H
#define CLI_COMMAND_CALIBRATE_STATE_H

#include "conf/settings.h"
#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stdint.h>

struct error;
struct ledger_read;

/* The calibration of a channel that holds; in the inside's unit, shown minus true. */
struct calibrate_held {
	int64_t id; /* 0: it was never calibrated by then */
	struct wall at, due;
	double as_found, as_left; /* NAN: not known */
};

/* By channel of the settings, those of `line` (-1: of all lines) that hold at `at`; `held`
 * has room for settings->channel_count. */
int calibrate_state_read(struct calibrate_held *held, struct ledger_read *ledger,
    const struct settings *settings, int line, struct wall at, struct error *error);

/* From the state at `from`, as far as it had been entered by `known`, to that at `to`. */
struct calibrate_span {
	struct wall from, known, to;
};

/* What a channel's readings are off by, and so corrected, before and after a span. */
struct calibrate_change {
	bool changed;
	struct wall at;       /* of the calibration that holds after it */
	double before, after; /* shown minus true, in the inside's unit */
};

/* By channel of the settings: room for settings->channel_count. */
int calibrate_changes(const struct settings *settings, int line,
    struct ledger_read *ledger, const struct calibrate_span *span,
    struct calibrate_change *changes, struct error *error);

/* The channels of a line whose correction became another over the span: "a.b, a.c"; "" for
 * none. */
enum { CALIBRATE_WORDS = 512 };
int calibrate_since(const struct settings *settings, int line,
    struct ledger_read *ledger, const struct calibrate_span *span,
    char words[static CALIBRATE_WORDS], struct error *error);

/* A due date is a day: it is over when the day is. */
bool calibrate_is_overdue(struct wall due, struct wall at);

/* Whether a channel is a sensor that one calibrates: no output, no set point, no count. */
bool calibrate_is_sensor(const struct channel_settings *channel);

/* "device.channel". */
enum { CALIBRATE_NAME = 2 * SETTINGS_NAME };
void calibrate_name(
    const struct settings *settings, size_t channel, char name[static CALIBRATE_NAME]);

/* The index of "device.channel", -1 when there is none. */
int64_t calibrate_find(const struct settings *settings, const char *name);

/* How many of a line are overdue; their names in `words`. */
int calibrate_overdue(const struct settings *settings, int line,
    const struct calibrate_held *held, struct wall at,
    char words[static CALIBRATE_WORDS]);

/* "9 of 25 sensors calibrated, the next due 2026-09-01 (water.tool_1); overdue: ...", of
 * the sensors of one line. */
void calibrate_words(const struct settings *settings, int line,
    const struct calibrate_held *held, struct wall at,
    char words[static CALIBRATE_WORDS]);

#endif
