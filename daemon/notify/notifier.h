/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The thread that has a program of the plant's run when something happened ([notify]).
 *
 * Every NOTIFIER_LOOK_S it reads what the ledger has of events beyond its cursor, whoever
 * filed them.  Of the kinds that are asked for it gathers, for NOTIFIER_GATHER_S from the
 * first on, and runs the program once for all of them (message.h: what it is told;
 * child.h: how it is run): sixty devices behind one dead switch are one call.  Never two
 * at once, and from the beginning of one to that of the next NOTIFIER_BETWEEN_S at least.
 *
 * Each event is told AT LEAST ONCE, as long as it is younger than NOTIFIER_OLDEST_S (a
 * finding, whose time is that of its first shot, than twice that): the cursor moves in the
 * ledger once the program has ended with 0.  A program that fails, or does not end in time,
 * is run again after NOTIFIER_AGAIN_S, twice that and so on up to NOTIFIER_LATEST_S, with
 * all that has come meanwhile.  Told twice is what a run told that the daemon was stopped or
 * killed in, or whose cursor a power loss took back.  (At most once would be a cursor moved
 * before the run: then a kill loses the call that somebody has to get up for.)  What was
 * filed before there first was a [notify] is not told; what was while it was taken out is,
 * as after a restart.
 *
 * While the ledger cannot be written, or not be read, events cannot come through it: whoever
 * has them gives them to notifier_tell, before they are filed.  Those are told once in this
 * process, also when they get into the ledger, and are lost with it when they do not.
 *
 * The thread waits for nobody but the ledger, and nobody waits for it; but for
 * notifier_start and notifier_stop all is for any thread, and blocks for no longer than a
 * copy takes.  Seconds are the system's, those of NOTIFIER_OLDEST_S the clock's (age.h).
 */
#ifndef DAEMON_NOTIFY_NOTIFIER_H
#define DAEMON_NOTIFY_NOTIFIER_H

#include "daemon/base/clock.h"

#include <stdint.h>

struct error;
struct ledger_event;
struct notifier;
struct settings;

enum {
	NOTIFIER_LOOK_S = 5,
	NOTIFIER_GATHER_S = 10,
	NOTIFIER_BETWEEN_S = 60,
	NOTIFIER_AGAIN_S = 60,
	NOTIFIER_LATEST_S = 960,
	NOTIFIER_OLDEST_S = 86400,
	NOTIFIER_STOP_S = 3, /* a program that runs as the daemon stops has so long */
};

/* Those of the first four that a test shortens, in seconds; NULL: as above. */
struct notifier_pace {
	double look_s, gather_s, between_s, again_s;
};

/* By the settings' [notify], which must name a program; they are copied.  NULL with the
 * sentence in `error`. */
struct notifier *notifier_start(const struct settings *settings,
    const struct notifier_pace *pace, struct error *error);

/* A program that runs is ended, NOTIFIER_STOP_S and CHILD_GRACE_S later by force. */
void notifier_stop(struct notifier *notifier);

/* The ledger can be opened now: before this it is not touched. */
void notifier_open(struct notifier *notifier);

/* Other settings of the same ledger hold from now on; what failed is tried at once. */
void notifier_adopt(struct notifier *notifier, const struct settings *settings);

/* An event that cannot get into the ledger for now; copied. */
void notifier_tell(struct notifier *notifier, const struct ledger_event *event);

struct notifier_status {
	int works;         /* 1; 0: not, by `text`; -1: there was nothing to tell yet */
	struct wall since; /* of that */
	int64_t told;      /* calls since the start */
	int64_t failures;
	int64_t waiting; /* events */
	char text[400];  /* why it does not, and what to do */
};
void notifier_status(struct notifier *notifier, struct notifier_status *status);

#endif
