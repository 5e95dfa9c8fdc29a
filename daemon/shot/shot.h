/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A shot: one sheet's whole way through the machine, one record.
 *
 * Made by the tracker, given to a sink, then only read.  Durations come from the
 * monotonic clock; the wall times are labels.  Owner: whoever holds it.
 */
#ifndef DAEMON_SHOT_SHOT_H
#define DAEMON_SHOT_SHOT_H

#include "conf/settings.h"
#include "daemon/base/clock.h"

#include <stddef.h>
#include <stdint.h>

/* What became of the sheet; the first that applies, in this order. */
enum shot_outcome {
	SHOT_PARTIAL,       /* the logger did not see all of it */
	SHOT_EMPTY,         /* the frame went round without a sheet */
	SHOT_SCRAPPED,      /* heated, but gone before it was formed */
	SHOT_ABORTED,       /* left the oven or the form station without being formed */
	SHOT_INTERRUPTED,   /* a fault or a stop held it in the oven */
	SHOT_REHEATED,      /* went through the oven again before it was formed */
	SHOT_TIMER_RELEASE, /* left the oven by the timer, not by its sag */
	SHOT_STARTUP,       /* among the first after a stop */
	SHOT_COMPLETE,
	SHOT_OUTCOME_COUNT
};

/* "partial" ... "complete". */
const char *shot_outcome_text(enum shot_outcome outcome);

/* What is odd about it; any number of them. */
enum shot_flag {
	SHOT_FLAG_GAP = 1 << 0,          /* scans are missing within its windows */
	SHOT_FLAG_SAG_STUCK = 1 << 1,    /* the sag eye was on too soon, or bounced */
	SHOT_FLAG_TIMER = 1 << 2,        /* released by the timer */
	SHOT_FLAG_SHORT_HEAT = 1 << 3,   /* less than heat_min_s in the oven */
	SHOT_FLAG_DOUBLE_INDEX = 1 << 4, /* the line moved on twice */
	SHOT_FLAG_FAULT = 1 << 5,        /* the machine reported a fault meanwhile */
	SHOT_FLAG_MANUAL = 1 << 6,       /* the machine was in manual meanwhile */
	SHOT_FLAG_STARTUP = 1 << 7,      /* among the first after a stop */
	SHOT_FLAG_COUNT_JUMP = 1 << 8,   /* the cycle counter did not go up by one */
	SHOT_FLAG_CLOCK_STEP = 1 << 9,   /* the wall clock stepped meanwhile */
	SHOT_FLAG_LATE_FORM = 1 << 10, /* the platens closed later than form_limit_s */
	SHOT_FLAG_LOGGER_START = 1 << 11, /* in flight when the logger started */
	SHOT_FLAG_REHEAT = 1 << 12,       /* more than one heat */
	SHOT_FLAG_SEQUENCE = 1 << 13,     /* edges in an order that no machine has */
	SHOT_FLAG_SHORT_FORM = 1 << 14,   /* platens closed for less than form_min_s */
};
enum { SHOT_FLAG_BITS = 15 };

/* "gap" for 1 << 0 ...; `bit` is 0 to SHOT_FLAG_BITS - 1. */
const char *shot_flag_text(int bit);

enum absent {
	ABSENT_NOT, /* the value is there */
	ABSENT_STALE,
	ABSENT_SENSOR_FAULT,
	ABSENT_COMM_FAULT,
	ABSENT_OUT_OF_RANGE,
	ABSENT_LOW_COVERAGE,
	ABSENT_NOT_APPLICABLE, /* this shot has no such window or event */
	ABSENT_NOT_CONFIGURED, /* this line has no such channels */
};

/* "stale" ... "not_configured"; "" for ABSENT_NOT. */
const char *absent_text(enum absent absent);

/* One channel over its own window: surfaces and zones the heat, the rest the form. */
struct shot_channel {
	uint32_t channel;          /* index in settings->channels */
	double min, mean, max, sd; /* mean: over time; sd NAN under two readings */
	double last;     /* surfaces: fitted at heat end; others: last good reading */
	double coverage; /* ratio of the window with good readings */
	enum absent absent; /* why there are no numbers */
};

struct shot {
	uint32_t line;
	int side;        /* index in the line's sides; -1: it has but one */
	int64_t shot_no; /* of this line, from 1, without holes, never again */
	struct wall loaded_at, heat_start_at, heat_end_at, form_start_at, form_end_at;
	struct wall closed_at; /* when the record was finished; always known */
	enum shot_outcome outcome;
	uint32_t flags;       /* enum shot_flag, or-ed */
	char reason[128];     /* why the outcome is not complete; "" otherwise */
	int recipe;           /* as read from the machine at heat start; -1 unknown */
	int64_t cycle_count;  /* the machine's counter at form start; -1 unknown */
	double uncertainty_s; /* of each duration: the poll period of the edges */
	uint64_t set_points;  /* hash of those read as the heat began; 0: none */
	/* The material's figures that the inside was computed with: "abs 2 4c1a09e2", name,
	 * version (where it has one) and hash; "": it was not computed. */
	char properties[2 * SETTINGS_NAME + 16];

	double value[FEATURE_COUNT];         /* SI; NAN when absent */
	unsigned char absent[FEATURE_COUNT]; /* enum absent */

	size_t channel_count;
	struct shot_channel *channels; /* owned */

	/* The sheet's way and its readings, packed (see trace.h); owned, NULL: none. */
	unsigned char *trace;
	size_t trace_bytes;
};

struct shot *shot_new(size_t channel_count); /* all absent; NULL when memory is short */
void shot_free(struct shot *shot);

/* Form start, else heat end, else closing: the time by which a shot is filed. */
struct wall shot_time(const struct shot *shot);

#endif
