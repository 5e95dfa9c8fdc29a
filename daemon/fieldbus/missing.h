/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which channels of a device have no good value although it answers, since when, and
 * why: a sensor that is broken or frozen, a register that is refused.  Pure.  One object
 * belongs to one thread.
 *
 * A scan that was not answered says nothing: what was known of its channels stays.
 */
#ifndef DAEMON_FIELDBUS_MISSING_H
#define DAEMON_FIELDBUS_MISSING_H

#include "daemon/base/clock.h"

#include <stddef.h>
#include <stdint.h>

struct missing;
struct scan;
struct settings;

/* Of a device.  `settings` must outlive it.  NULL when memory is short. */
struct missing *missing_new(const struct settings *settings, uint32_t device);
void missing_free(struct missing *missing); /* NULL allowed */

/* Takes a scan of the device in that was answered, be it in part. */
void missing_note(struct missing *missing, const struct scan *scan);

/* How many channels have no good value now; `since`: the one that has been at fault the
 * longest; ns 0 when none is, be some out of range: that may be the machine's doing. */
uint32_t missing_count(const struct missing *missing, struct wall *since);

/* The first of them by name with the reason, as many as fit: "surface_top_2 frozen,
 * surface_top_3 reports a fault, ..."; "" when there are none. */
void missing_text(const struct missing *missing, char *text, size_t room);

#endif
