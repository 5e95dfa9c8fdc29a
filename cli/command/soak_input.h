/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What `soak` is asked: the readings of a file and the options as a case of conduction.
 */
#ifndef CLI_COMMAND_SOAK_INPUT_H
#define CLI_COMMAND_SOAK_INPUT_H

#include "cli/command/session.h"
#include "cli/command/soak_file.h"
#include "daemon/heat/soak.h"
#include "daemon/heat/substance.h"

/* What is known of sheets and pyrometers where nobody says otherwise, each half of a 95 %
 * interval: the same as the settings of a line and a recipe begin with.  Common practice,
 * no source. */
#define SOAK_THICKNESS_TOLERANCE 0.02
#define SOAK_DIFFUSIVITY_TOLERANCE 0.15
#define SOAK_SURFACE_DC 2.0
#define SOAK_GAIN 0.02
#define SOAK_START_DC 2.0
#define SOAK_LAG_S 1.0
#define SOAK_SIDE_DC 15.0      /* a side that nobody measured */
#define SOAK_TRANSFER_W_M2K 10 /* convection on the way to the form */
#define SOAK_FREE_AIR 0.5      /* ratio of that */
#define SOAK_FREE_AIR_DC 5.0   /* of the air there */
#define SOAK_GAP_S 10.0        /* longer without a reading is told */

struct soak_input {
	const struct material_settings *material; /* lent; NULL: a bare diffusivity */
	double diffusivity;                       /* m2/s; NAN: of a material */
	struct substance substance;
	struct soak_file file; /* up to the end of what is looked at */
	double held_s[1], held_top_c[1], held_bottom_c[1];
	double heat_end_s, end_s;    /* on the file's clock; it begins at file.from_s */
	double longer_s, transfer_s; /* 0: none */
	double air_c;
	bool start_told; /* by --start-c */
	size_t heat_end; /* the stretch that ends there */
	struct soak_case soak;
};

/* The options that it reads. */
#define SOAK_INPUT_OPTIONS                                                \
	(OPTION_BIT(OPTION_THICKNESS_MM) | OPTION_BIT(OPTION_MATERIAL) |  \
	    OPTION_BIT(OPTION_DIFFUSIVITY) | OPTION_BIT(OPTION_START_C) | \
	    OPTION_BIT(OPTION_TRANSFER_S) | OPTION_BIT(OPTION_AIR_C) |    \
	    OPTION_BIT(OPTION_AT) | OPTION_BIT(OPTION_LONGER))

/* Fills `input` (soak_input_release, also after a failure), which must not be moved
 * afterwards: the case points into it.  What cannot be meant is told. */
enum command_exit soak_input_read(
    struct soak_input *input, const struct call *call, const struct session *session);
void soak_input_release(struct soak_input *input);

/*
 * What `soak` and `calibrate diffusivity` share: --thickness-mm into *thickness_m, and the
 * substance that --material or --diffusivity tells; `fallback` is the diffusivity with
 * neither of them (NAN: one must be given).
 */
enum command_exit soak_input_thickness(const struct call *call, double *thickness_m);
enum command_exit soak_input_substance(struct substance *substance,
    const struct material_settings **material, double *diffusivity,
    const struct call *call, const struct session *session, double fallback);

#endif
