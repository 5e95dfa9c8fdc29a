/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One thread a bus: wakes on an absolute schedule, reads the groups that are due, decodes,
 * stamps each scan at the reply, hands it on.
 *
 * A unit that does not answer is comm_fault at each of its periods, and asked: alone on
 * its bus at each, so that one that behaves again is read within a period (within a
 * second where a connection is refused); among others after pauses (silence.h) which end
 * at 30 s or 120 times what asking it costs, at ten minutes where several are dead.
 * With its first answer after that all its groups are read.  Sections with the same unit
 * id on a bus are one unit.
 *
 * A connection that cannot be made is tried once a period, and once a second at most.
 * One that a unit's silence has ended is made again for the next unit at once.
 *
 * poller_start, _end, _wait and _stop belong to one thread; the others are safe from any.
 * The sink is called from the poller's thread; the scan is lent until it returns.
 */
#ifndef DAEMON_FIELDBUS_POLLER_H
#define DAEMON_FIELDBUS_POLLER_H

#include "daemon/base/clock.h"
#include "daemon/fieldbus/answer.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct poller;
struct scan;
struct settings;

typedef void poller_sink(void *arg, const struct scan *scan);

/* Polls all devices of bus `bus` (device_settings.bus) until stopped.  `settings` must
 * outlive the poller.  NULL with the reason in `error`. */
struct poller *poller_start(const struct settings *settings, uint32_t bus,
    poller_sink *sink, void *arg, struct error *error);

/* Tells the thread to end, and waits for nothing: several can be told before the first
 * is waited for.  Then poller_stop. */
void poller_end(struct poller *poller);

/* After poller_end: true once the thread has ended, false after `s` of the system's
 * time.  It ends within POLLER_END_TIMEOUTS of its longest time-out: over TCP within one
 * (the request or the connection under way); on a serial line within six where nobody
 * else is on it (the request, listening after it, and waiting for late answers). */
enum { POLLER_END_TIMEOUTS = 11 };
bool poller_wait(struct poller *poller, double s);

/* All of it, however long it takes; frees.  NULL allowed. */
void poller_stop(struct poller *poller);

/* A heat begins on this line of the settings: reads its groups with at_heat now, on a bus
 * that is late a request of them after each faster group.  Safe from any thread. */
void poller_hurry(struct poller *poller, uint32_t line);

struct device_status {
	uint32_t device;
	int answering; /* 1: the last scan was answered in full; 0: not; -1: not tried yet */
	bool in_part;            /* it was answered, though a block was refused */
	struct wall since;       /* of that state */
	int64_t scans, failures; /* since the start */
	int64_t late; /* scans that began a period or more after their time */
	int64_t answers[ANSWER_COUNT]; /* requests by what became of them */
	int64_t opened;                /* connections made, of its bus */
	/* How late its scans began, of the last one to two hours; those that were left
	 * out count as late as the one that came for them. */
	double late_p99_ms, late_worst_ms;
	enum answer
	    why; /* of the last failure, ANSWER_LOST when there was nothing to ask
	    over; ANSWER_GOOD: none yet */
	char text[160]; /* of it: "timed out after 1000 ms" */
	/* While it answers: channels without a good value, since when one has been at
	 * fault (ns 0: none), and the first by name (missing.h). */
	uint32_t bad_channels;
	struct wall bad_since;
	char bad_text[160];
};

/* Fills one status a device of the bus, `room` at most; returns how many. */
size_t poller_status(struct poller *poller, struct device_status *status, size_t room);

#endif
