/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The ledger, written: how things are now, of the daemon, its devices and stores.
 * Everything here is replaced, nothing is kept.  As ledger.h, which includes this.
 */
#ifndef DAEMON_LEDGER_LEDGER_HEALTH_H
#define DAEMON_LEDGER_LEDGER_HEALTH_H

#include "daemon/base/clock.h"

#include <stddef.h>
#include <stdint.h>

struct error;
struct ledger;

/* So long a device, a store or the ledger has to be as it is until that is an event. */
enum { LEDGER_HOLD_S = 60 };

/* --- the logger itself: one row, replaced with health ----------------------------------- */

struct ledger_logger {
	char host[64], version[32];
	struct wall started, at;
	int64_t polls, failures, late;      /* scans of all devices since the start */
	int64_t queue, queue_most, dropped; /* readings not looked at yet; ever; lost */
	int64_t waiting, lost;              /* shots not on file yet; lost */
	int64_t filed;                      /* shots since the start */
	int64_t clock_steps;                /* of the system's clock since the start */
	int64_t memory_bytes;               /* resident */
	int64_t ledger_bytes, free_bytes;   /* of the file with its WAL; of its disk */
};
int ledger_put_logger(
    struct ledger *ledger, const struct ledger_logger *logger, struct error *error);

/* --- health: one row a subject, for evensoak status ---------------------------- */

struct ledger_health {
	const char *subject; /* "daemon", "device plc", "store plant" */
	const char *state;   /* "ok", or one word for what is wrong */
	const char *text;    /* one sentence */
	struct wall since;   /* of this state */
	struct wall at;      /* of this row */
	int64_t good,
	    bad; /* counts since the daemon started: scans answered in full and
	    the others, batches ... */
};

/* What is counted of a polled device; but for the first four, what became of requests. */
enum ledger_count {
	LEDGER_COUNT_SCANS,
	LEDGER_COUNT_FAILURES, /* scans that were not answered in full */
	LEDGER_COUNT_LATE,     /* scans that began a period or more after their time */
	LEDGER_COUNT_OPENED,   /* connections made, of its bus */
	LEDGER_COUNT_GOOD,
	LEDGER_COUNT_ILLEGAL, /* exceptions: it has not what it was asked for */
	LEDGER_COUNT_BUSY,    /* it asks for time */
	LEDGER_COUNT_FAULT,   /* any other exception */
	LEDGER_COUNT_GATEWAY, /* the gateway does not reach it */
	LEDGER_COUNT_NONE,    /* timed out */
	LEDGER_COUNT_WRONG,   /* answers to something else, or damaged */
	LEDGER_COUNT_LOST,    /* the connection or the port was gone */
	LEDGER_COUNTS
};

/* Of its column and of its field in a store: "scans", "failures" ... */
const char *ledger_count_name(enum ledger_count count);

/* A device as its bus sees it; the strings are lent. */
struct ledger_device {
	const char *device, *line, *bus;
	const char *state; /* as in its row of health */
	const char *why; /* a count's name: what its last failure was; "": none, or not
	    a request's */
	struct wall since; /* polled, and counted, from here on */
	struct wall at;
	int64_t counts[LEDGER_COUNTS];
	double late_p99_s, late_worst_s; /* how late its scans begin; NAN: not known */
	const char *port; /* of a serial bus: its path; NULL or "": the bus is none */
	double period_s;  /* its shortest */
	struct wall state_since; /* it is in this state */
	/* Of its channels, while it answers: so many have no good value; since when one has
	 * been at fault, not merely out of range (ns 0: none is); and the first by name
	 * with the reason, for people. */
	int64_t bad_channels;
	struct wall bad_since;
	const char *bad_text;
	/* As the counts, from here on: one to two hours ago, or later.  From
	 * LEDGER_COUNT_GOOD on; the others are not filed. */
	struct wall recent_since;
	int64_t recent[LEDGER_COUNTS];
};

/* All rows at once, in place of those that were there.  They carry the run of the process
 * that has the ledger's lock, if it has: see ledger_summary. */
int ledger_put_health(struct ledger *ledger, const struct ledger_health *rows,
    size_t count, const struct ledger_device *devices, size_t device_count,
    struct error *error);

#endif
