/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What somebody who watches a line knows of it at one time, and its page.  Plain data,
 * and a drawing that needs no bus.
 */
#ifndef CLI_COMMAND_WATCH_VIEW_H
#define CLI_COMMAND_WATCH_VIEW_H

#include "cli/page/page.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/poller.h"
#include "daemon/shot/duty.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

struct watch_reading {
	bool heard;          /* it was asked for at all */
	struct reading last; /* good or not */
	double age_s;        /* since the last good one; NAN: there was none */
};

enum { WATCH_EVENT = 256 };
struct watch_line {
	uint32_t line; /* in the settings */
	struct tracker_place places[TRACKER_PLACES_MAX];
	size_t place_count;
	struct duty_bit *bits;
	size_t bit_count;
	int cycles;                     /* whole ones that the bits were seen over */
	struct wall cycles_until;       /* the end of the last of them; ns 0: none */
	int64_t shots;                  /* finished while it was watched */
	int64_t empty_formed;           /* among them: formed without a sheet in it */
	enum shot_outcome last_outcome; /* of the last of them ... */
	uint32_t last_flags;
	char last_reason[128];
	struct wall last_at;
	char event[WATCH_EVENT]; /* the last one; "" */
};

struct watch_view {
	const struct settings *settings;
	int64_t device; /* this one of the settings alone is drawn; -1: all */
	struct wall at;
	double watched_s;
	struct watch_line *lines; /* those that are watched */
	size_t line_count;
	struct watch_reading *readings; /* by channel of the settings */
	struct device_status *devices;  /* by device of the settings */
};

/* Room for all lines and channels, to be drawn all; false when memory is short.  Release in either case. */
bool watch_view_init(struct watch_view *view, const struct settings *settings);
void watch_view_release(struct watch_view *view);

/* Whether something of what is drawn is wrong: a device does not answer in full, a bit has
 * a remark, an empty frame was formed. */
bool watch_view_is_odd(const struct watch_view *view);

void watch_view_put(struct page *page, const struct watch_view *view);

/* The same in pieces, for a screen that does not hold it: the lines, then the devices one
 * by one.  `piece` is 0 to watch_view_pieces() - 1. */
size_t watch_view_pieces(const struct watch_view *view);
void watch_view_put_piece(
    struct page *page, const struct watch_view *view, size_t piece);

#endif
