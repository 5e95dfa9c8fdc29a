/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What is known of a feature over all complete shots of a time, whatever they were of.  In
 * the unit of the feature's name.  Pure; one thread.
 */
#ifndef CLI_POPULATION_SHIFT_KNOWN_H
#define CLI_POPULATION_SHIFT_KNOWN_H

#include "cli/population/population.h"

/* The sum where it is known of every shot, else NAN.  `*failed` is set when memory is short. */
double shift_known_sum(const struct populations *all, int feature, bool *failed);

/* The median of those that are known; NAN: there are none. */
double shift_known_median(const struct populations *all, int feature, bool *failed);

/* Whether it is known of any shot. */
bool shift_known_any(const struct populations *all, int feature);

#endif
