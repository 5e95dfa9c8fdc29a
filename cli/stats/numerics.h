/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How the library of numerics, GSL, behaves in trouble.  By itself it ends the program where it
 * cannot compute something or memory is short.  After numerics_start it says so to who called it,
 * by a code, NAN or NULL, and each of these is looked at here.
 */
#ifndef CLI_STATS_NUMERICS_H
#define CLI_STATS_NUMERICS_H

/* Once in a program, before the first use. */
void numerics_start(void);

/* Sums of values near the end of the range of doubles may leave it: NAN then. */
double numerics_finite(double value);

#endif
