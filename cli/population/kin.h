/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which features are the same quantity, or computed one from the other: that those move
 * together says nothing.  Constant data; any thread.
 */
#ifndef CLI_POPULATION_KIN_H
#define CLI_POPULATION_KIN_H

#include "cli/population/population.h"
#include "conf/settings.h"

#include <stdbool.h>

/* Whether the two rest on the same readings or times. */
bool kin_are(int a, int b);

/* Whether the two, as inputs of something else, need not both be named. */
bool kin_tell_the_same(int a, int b);

/* Whether it can have moved anything: not how well something was read, and no count. */
bool kin_is_input(int feature);

/* Adds all inputs that shots of the line can have; `line` NULL: those of no family. */
void kin_add_inputs(
    struct population_features *features, const struct line_settings *line);

#endif
