/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Every feature of the shots of a simulated line as CSV, with the truth of each sheet
 * beside them (columns true_...).
 */
#ifndef TESTS_PHYSICS_FEATURES_CSV_H
#define TESTS_PHYSICS_FEATURES_CSV_H

#include "tests/physics/player.h"

#include <stdio.h>

/* Plays `count` complete shots; blank: absent.  False when the script has mistakes. */
bool features_csv_write(FILE *file, const struct settings *settings,
    const struct plant_line_setup *line, int count);

#endif
