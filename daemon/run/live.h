/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Live readings on their way from the scans to the filing, for each store that wants
 * them; nothing at all where none does.  Stores with the same interval share its
 * reckoning.  One object belongs to one thread, that of its filing.
 */
#ifndef DAEMON_RUN_LIVE_H
#define DAEMON_RUN_LIVE_H

#include "daemon/base/clock.h"

struct filing;
struct live;
struct scan;
struct settings;

/* `filing` and `settings` must outlive it, or be replaced by live_adopt; the filing's
 * settings must be the same.  NULL when memory is short. */
struct live *live_new(const struct settings *settings, struct filing *filing);
void live_free(struct live *live); /* intervals under way are given up; NULL allowed */

void live_scan(struct live *live, const struct scan *scan);

/* No scan that was stamped before `now` is on its way any more. */
void live_pass(struct live *live, struct wall now);

/* Goes over to settings with the same machine; where an interval is as long as one
 * before, what is under way in it goes on. */
void live_adopt(struct live *live, const struct settings *settings);

#endif
