/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The pollers of all buses of a configuration.
 *
 * One object belongs to one thread; only buses_hurry is for any.
 */
#ifndef DAEMON_RUN_BUSES_H
#define DAEMON_RUN_BUSES_H

#include "daemon/base/clock.h"
#include "daemon/fieldbus/poller.h"

struct buses;

/* None is polled yet.  NULL when memory is short. */
struct buses *buses_new(void);
void buses_free(struct buses *buses); /* after buses_stop, when nobody hurries it
    any more; NULL allowed */

/* Polls every bus of `settings`, which must outlive buses_stop; `sink` as in
 * daemon/fieldbus/poller.h.  Call buses_stop also after a failure. */
int buses_start(struct buses *buses, const struct settings *settings, poller_sink *sink,
    void *arg, struct error *error);

/* Ends them, all at once, so that they can be started again.  Takes as long as the
 * slowest of them: POLLER_END_TIMEOUTS of the longest time-out at most; systemd is told
 * meanwhile, for no longer than that. */
void buses_stop(struct buses *buses);

/* A heat begins on this line of the settings: what is to be read then is read now, where
 * the line is polled.  Waits for no request. */
void buses_hurry(struct buses *buses, uint32_t line);

size_t buses_count(const struct buses *buses);
struct poller *buses_get(const struct buses *buses, size_t bus); /* below the count */
struct wall buses_since(const struct buses *buses); /* when they were started */
const struct settings *buses_polled(const struct buses *buses); /* and with which */

#endif
