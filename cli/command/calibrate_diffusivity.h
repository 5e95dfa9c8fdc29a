/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * `calibrate diffusivity FILE`: how fast heat goes through a sheet, from one that was
 * heated with a thermocouple inside.  Columns t_s, top_c, bottom_c (one face at least) and
 * inside_c.
 */
#ifndef CLI_COMMAND_CALIBRATE_DIFFUSIVITY_H
#define CLI_COMMAND_CALIBRATE_DIFFUSIVITY_H

#include "cli/command/command.h"

#define CALIBRATE_DIFFUSIVITY_OPTIONS                                  \
	(OPTION_BIT(OPTION_THICKNESS_MM) | OPTION_BIT(OPTION_DEPTH) |  \
	    OPTION_BIT(OPTION_MATERIAL) | OPTION_BIT(OPTION_START_C) | \
	    OPTION_BIT(OPTION_DIFFUSIVITY))

/* The file is the call's second argument. */
enum command_exit calibrate_diffusivity(const struct call *call);

#endif
