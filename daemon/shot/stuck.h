/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A sensor that hangs: it goes on giving the same number, good by all that its device
 * tells, while others that see the same oven move.  Pure.
 *
 * It hangs while its good readings are the same to the last bit for STUCK_S at least, with
 * STUCK_READINGS of them, and half of the others or more move by over STUCK_OTHERS_DC in
 * that time.  A live one has noise in its last digit.  All these bounds: common practice,
 * no source.
 */
#ifndef DAEMON_SHOT_STUCK_H
#define DAEMON_SHOT_STUCK_H

#include "daemon/shot/history.h"
#include "daemon/shot/window.h"

#include <stdbool.h>
#include <stddef.h>

#define STUCK_S 15.0
#define STUCK_OTHERS_DC 10.0
enum { STUCK_READINGS = 8 };

/* Whether `channel` hangs in `window`, at a time that is in part within `part` of it.
 * `others`: what it is compared with; itself among them is left out, and without any
 * nothing is known to hang. */
bool stuck_within(const struct history *history, uint32_t channel,
    const uint32_t *others, size_t count, struct window window, struct window part);

#endif
