/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the buses count of their devices, and how the logger itself is, told to one store
 * beside the shots.
 *
 * Counts only go up, and the share of scans that were answered is reckoned from the last
 * point that was taken: a point that is lost costs nothing, the next one tells it all.  So
 * nothing is queued, nothing is tried twice and nothing is set aside; whatever the store
 * says to these points, the shots' delivery does not know of it.
 *
 * One object belongs to one thread.
 */
#ifndef DAEMON_PUBLISH_TELLING_H
#define DAEMON_PUBLISH_TELLING_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct http;
struct settings;
struct telling;

/*
 * To store `store` of `settings`, out of the ledger at `ledger`, over `http`, which posts
 * to that store; settings and http are lent until telling_close.  NULL with the reason.
 */
struct telling *telling_open(const struct settings *settings, size_t store,
    const char *ledger, struct http *http, struct error *error);
void telling_close(struct telling *telling);

/*
 * Posts a point for each device and one of the logger as the ledger has them now, once,
 * unless these were tried before.  The latter also tells how the store stands: what it lacks
 * and has refused by the ledger, the rest as the caller says.  1 when the store took
 * something, 0 when there is nothing new; else negative with the reason: ERROR_REFUSED when
 * it was the store's answer.  Blocks on the ledger and for two or three posts, each for
 * the store's time-out at most.
 */
int telling_post(struct telling *telling, bool delivering, int64_t lost_readings,
    struct error *error);

#endif
