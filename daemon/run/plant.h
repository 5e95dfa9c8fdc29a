/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Everything that runs for one configuration: the pollers, the recorder, the
 * publishers, and how they are, told to the ledger for evensoak status.
 *
 * One object belongs to one thread (the main one); the threads it starts are ended by
 * plant_stop in the reverse order of starting.
 */
#ifndef DAEMON_RUN_PLANT_H
#define DAEMON_RUN_PLANT_H

#include <stdbool.h>

struct error;
struct plant;
struct settings;

/* Starts all of it; takes the settings (frees them at the end, also on failure).  Every
 * scan is recorded to the file `record`; NULL: to none.  NULL with the sentence in
 * `error`. */
struct plant *plant_start(
    struct settings *settings, const char *record, struct error *error);

/* Goes over to new settings; takes them.  Where the machine is the same the sheets in
 * flight are left alone; otherwise bus and trackers start anew.  Another
 * ledger is refused, ERROR_INVALID, and all goes on as it was; on any other failure nothing
 * runs any more. */
int plant_reload(struct plant *plant, struct settings *settings, struct error *error);

/* A changed configuration file was refused: `why` goes to the health rows; "" when
 * the file is in force.  Both are an event. */
void plant_note_refusal(struct plant *plant, const char *why);

/* Once a second: wakes the publishers when shots were filed; writes the health rows when
 * a state changed or it is time.  False when a thread seems to hang. */
bool plant_tick(struct plant *plant);

/* Finishes what is in hand and frees; NULL allowed.  `why` is for the event; NULL: none. */
void plant_stop(struct plant *plant, const char *why);

#endif
