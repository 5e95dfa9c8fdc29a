/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a store has answered so far.  One object belongs to one thread.
 */
#ifndef CLI_SOURCE_GATHERED_H
#define CLI_SOURCE_GATHERED_H

#include "cli/source/harvest.h"

#include <stdbool.h>

/* Events in one span, channels of one shot, lines. */
enum { GATHERED_MOST = 50000 };

struct gathered_event {
	struct ledger_event event;
	int64_t point_ns; /* of one microsecond in the order that they were filed in */
};

struct gathered {
	struct harvest harvest;
	struct gathered_event *events;
	struct ledger_channel *channels;
	char (*lines)[LEDGER_NAME];
	size_t event_count, channel_count, line_count;
	int64_t point_ns; /* of the shot whose channels are asked for */
	size_t documents; /* of the answer to one question */
	bool is_partial;  /* the last one says that there is more */
};

void gathered_init(struct gathered *gathered);
void gathered_release(struct gathered *gathered);

/* NULL: ERROR_FULL or ERROR_MEMORY in `*code`. */
struct gathered_event *gathered_add_event(struct gathered *gathered, int *code);

/* Sets its time: microseconds from the second of its point on. */
void gathered_set_event(struct gathered_event *event, int64_t point_ns, double at_us);

/* That of the name "device.channel", a blank one at first. */
struct ledger_channel *gathered_channel(
    struct gathered *gathered, const char *name, int *code);

/* 0 or the code; one that is there is not added. */
int gathered_add_line(struct gathered *gathered, const char *line);

/* Events by time, channels and lines by name. */
void gathered_sort(struct gathered *gathered);

/* Sets min, mean, max, sd, last or coverage, by that name. */
void gathered_set_channel(
    struct ledger_channel *channel, const char *field, double value);

/* The sentence to ERROR_FULL and ERROR_MEMORY; returns `code`. */
int gathered_failed(int code, struct error *error);

#endif
