/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Values of a device that have stopped moving: a transmitter that hangs goes on
 * answering with its last number.  Pure.  One object belongs to one thread.
 *
 * A channel with frozen_after_s is frozen when its raw bits have stayed for longer,
 * while another like it (conf/alike.h) has moved from one value to another within that
 * time.  One that has no other like it never is: a machine that rests shows the same for
 * hours.  It stays frozen until its bits change.  What was not read, or not answered,
 * starts the time anew.
 */
#ifndef DAEMON_FIELDBUS_FROZEN_H
#define DAEMON_FIELDBUS_FROZEN_H

#include <stdint.h>

struct frozen;
struct scan;
struct settings;

/* Of a device.  `settings` must outlive it.  NULL when memory is short. */
struct frozen *frozen_new(const struct settings *settings, uint32_t device);
void frozen_free(struct frozen *frozen);

/* Takes every scan of the device, and marks what was good in it and is frozen: value
 * NAN, the raw bits stay. */
void frozen_judge(struct frozen *frozen, struct scan *scan);

#endif
