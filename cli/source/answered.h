/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a store has answered so far.  One object belongs to one thread.
 */
#ifndef CLI_SOURCE_ANSWERED_H
#define CLI_SOURCE_ANSWERED_H

#include "cli/source/harvest.h"

#include <stdbool.h>

/* Events in one span, channels of one shot, lines. */
enum { ANSWERED_MOST = 50000 };

struct answered_event {
	struct ledger_event event;
	int64_t point_ns; /* of one microsecond in the order that they were filed in */
};

struct answered {
	struct harvest harvest;
	struct answered_event *events;
	struct ledger_channel *channels;
	char (*lines)[LEDGER_NAME];
	size_t event_count, channel_count, line_count;
	int64_t edge_s;   /* the second of the point at an edge; 0: there is none */
	int64_t point_ns; /* of the shot whose channels are asked for */
	int64_t amount;   /* of shots in the span that is asked about */
	size_t twice;     /* points of shots that came again */
	size_t documents; /* of the answer to one question */
	bool is_partial;  /* the last one says that there is more */
};

void answered_init(struct answered *answered);
void answered_release(struct answered *answered);

/* NULL: ERROR_FULL or ERROR_MEMORY in `*code`. */
struct answered_event *answered_add_event(struct answered *answered, int *code);

/* Sets its time: microseconds from the second of its point on. */
void answered_set_event(struct answered_event *event, int64_t point_ns, double at_us);

/* A shift that has ended: an event at its beginning, of its name, whose text is the number of
 * its revision.  0 or ERROR_MEMORY. */
int answered_add_shift(struct answered *answered, int64_t point_ns, const char *line,
    const char *shift, const char *revision);

/* That of the name "device.channel", a blank one at first. */
struct ledger_channel *answered_channel(
    struct answered *answered, const char *name, int *code);

/* 0 or the code; one that is there is not added. */
int answered_add_line(struct answered *answered, const char *line);

/* Events by time, channels and lines by name. */
void answered_sort(struct answered *answered);

/* Sets min, mean, max, sd, last or coverage, by that name. */
void answered_set_channel(
    struct ledger_channel *channel, const char *field, double value);

/* The sentence to ERROR_FULL and ERROR_MEMORY; returns `code`. */
int answered_failed(int code, struct error *error);

#endif
