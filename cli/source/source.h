/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shots, wherever they are kept: in the ledger of a line PC, or in the plant's central
 * store, where those of all lines meet.  A command that reads shots reads them here, and
 * says the same of both.
 *
 * One object belongs to one thread.  A store is asked over HTTP and blocks for its
 * time-out at most per request; what it answers is read in pieces of bounded size.
 */
#ifndef CLI_SOURCE_SOURCE_H
#define CLI_SOURCE_SOURCE_H

#include "daemon/base/clock.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct settings;
struct source;

/* The shots of an open ledger, which is lent.  NULL when memory is short. */
struct source *source_of_ledger(
    struct ledger_read *ledger, const char *path, struct error *error);

/* Those of site `settings->site` in store `store` of the settings, which are lent.  NULL with
 * the reason.  Asks nothing yet. */
struct source *source_of_store(
    const struct settings *settings, size_t store, struct error *error);
void source_close(struct source *source);

/* "ledger /var/lib/evensoak/ledger.db", "store plant"; lent. */
const char *source_name(const struct source *source);

/* How many points of shots it has given more than once since it was opened: a VictoriaMetrics
 * without -dedup.minScrapeInterval keeps what was sent again beside what it had.  Told of
 * those that were read by source_read_shots; each shot came once all the same. */
size_t source_twice(const struct source *source);

/* What a source is asked for and does not have: calibrations, reference runs and traces
 * are in the ledger alone.  NULL when the source is no ledger. */
struct ledger_read *source_ledger(const struct source *source);

/* The lines that have shots in it, in alphabetical order; names lent to `take`. */
int source_read_lines(struct source *source, int (*take)(void *arg, const char *line),
    void *arg, struct error *error);

/*
 * As ledger_read_shots, with the same filters (but after_change, which needs a ledger:
 * ERROR_INVALID) and in the same order; a store is read by time always, shots that were
 * filed in the same microsecond by line and number.  Of each shot its highest revision.  Of a store
 * `id`, `change` are 0 and `setup` is a number of this source's own, for
 * source_setup_hash.  Of a feature that the filter does not ask for there is no value, and
 * why may be told or not.  ERROR_TIMEOUT, ERROR_IO: the store does not answer;
 * ERROR_REFUSED: it answers, but not so; ERROR_NOT_FOUND: no such data base.
 */
int source_read_shots(struct source *source, const struct ledger_filter *filter,
    bool reasons, int (*take)(void *arg, const struct ledger_shot *shot), void *arg,
    struct error *error);

/* Events, in the order of their time (a ledger's also by change, unless by_time): those of
 * the filter's line and span.  Of a store without strings they have no text. */
int source_read_events(struct source *source, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *event), void *arg,
    struct error *error);

/* Of a store alone (a ledger's: ledger_read_shifts): the shifts that have ended and begin in
 * the filter's span, each revision: an event at the second of its beginning, of its name,
 * whose text is the number of its revision. */
int source_read_shifts(struct source *source, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *shift), void *arg,
    struct error *error);

/* The channels of a shot that was read from this source; of a store by their names, and
 * only those that have numbers. */
int source_read_channels(struct source *source, const struct ledger_shot *shot,
    int (*take)(void *arg, const struct ledger_channel *channel), void *arg,
    struct error *error);

/* The hash of the set-up that a shot of this source was made under. */
int source_setup_hash(
    struct source *source, int64_t setup, char hash[static 17], struct error *error);

#endif
