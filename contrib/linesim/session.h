/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One run of the simulated line: keeps the plant at the clock's time and answers its
 * masters in between, until the end that the options give or a SIGTERM or SIGINT.
 * Sets the clock's rate and the handlers of those two signals.
 */
#ifndef CONTRIB_LINESIM_SESSION_H
#define CONTRIB_LINESIM_SESSION_H

struct error;
struct options;

/* Prints what the masters asked for at the end; 0, or a negative error code. */
int session_run(const struct options *options, struct error *error);

#endif
