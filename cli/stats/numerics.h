/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How the library of numerics behaves in trouble. */
#ifndef CLI_STATS_NUMERICS_H
#define CLI_STATS_NUMERICS_H

/* From now on a function of GSL that cannot compute something says so to who called it, by its
 * code or by NAN, and does not end the program.  Once, before the first use. */
void numerics_start(void);

#endif
