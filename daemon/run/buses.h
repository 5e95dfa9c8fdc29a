/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The pollers of all buses of a configuration.
 *
 * One object belongs to one thread; buses_hurry is for another.
 */
#ifndef DAEMON_RUN_BUSES_H
#define DAEMON_RUN_BUSES_H

#include "daemon/base/clock.h"
#include "daemon/fieldbus/poller.h"

struct buses;

/* None is polled yet.  NULL when memory is short. */
struct buses *buses_new(void);
void buses_free(struct buses *buses); /* after buses_stop; NULL allowed */

/* Polls every bus of `settings`, which must outlive buses_stop; `sink` as in
 * daemon/fieldbus/poller.h.  Call buses_stop also after a failure. */
int buses_start(struct buses *buses, const struct settings *settings, poller_sink *sink,
    void *arg, struct error *error);

/* Ends them, so that they can be started again. */
void buses_stop(struct buses *buses);

size_t buses_count(const struct buses *buses);
struct poller *buses_get(const struct buses *buses, size_t bus); /* below the count */
struct wall buses_since(const struct buses *buses); /* when they were started */

#endif
