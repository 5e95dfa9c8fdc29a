/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Since when a series is unstable.  For suspect.c alone. */
#ifndef CLI_POPULATION_SUSPECT_STABILITY_H
#define CLI_POPULATION_SUSPECT_STABILITY_H

#include "cli/population/suspect.h"

/* The limits of a feature that hold for a shot; false: it has none, or is not asked about. */
bool suspect_limits(const struct suspect_asked *asked, const struct ledger_shot *shot,
    int feature, double *lower, double *upper);

/* Judges each characteristic of the complete shots asked about, of one recipe, tool, lot and
 * material each.  False when memory is short. */
bool suspect_stability_judge(struct suspects *suspects);

#endif
