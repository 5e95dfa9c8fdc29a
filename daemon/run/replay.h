/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A recording played through the trackers into the ledger, as fast as it goes: no bus, no
 * stores; times and events are those of the recording.
 */
#ifndef DAEMON_RUN_REPLAY_H
#define DAEMON_RUN_REPLAY_H

struct error;
struct settings;

/*
 * Plays the recording at `path` ("-": standard input) under `settings`, of which the
 * ledger is: what was recorded under others is decoded under these.
 *
 * ERROR_BUSY: a daemon has the ledger; ERROR_REFUSED: the ledger has shots that are later
 * than the recording's first scan, nothing was written; ERROR_INVALID, ERROR_TOO_NEW: no
 * recording; ERROR_IO, ERROR_FULL, ERROR_MEMORY.  What was
 * played until then is in the ledger.
 */
int replay_run(const struct settings *settings, const char *path, struct error *error);

#endif
