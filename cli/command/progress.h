/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A line on a terminal that says how far something has come, while it takes long; gone
 * when it ends.  Written by a thread of its own, as the caller may be waiting for an
 * answer; that thread takes no signals.  Calls belong to one thread.
 */
#ifndef CLI_COMMAND_PROGRESS_H
#define CLI_COMMAND_PROGRESS_H

#include <stdio.h>

struct progress;

/* What is over sooner need not say how far it is. */
#define PROGRESS_AFTER_S 1.0

/* Where and after how long; `to` is the caller's and no-one else's until the end.  NULL
 * when that is no terminal or memory is short: the calls below do nothing then. */
struct progress *progress_start(FILE *to, double after_s);

/* The same without asking for a terminal. */
struct progress *progress_start_on(FILE *to, double after_s);

/* From now on this is so; one short line. */
void progress_tell(struct progress *progress, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

/* Wipes the line; frees. */
void progress_end(struct progress *progress);

#endif
