/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The whole simulated rotary line, physics and sensors and registers, stepped in process:
 * no sockets, no clock.  What its devices answer now, and what truly happened to each
 * sheet.
 *
 * This header knows nothing of linesim's headers nor of the daemon's, which share names.
 * One object belongs to one thread.
 */
#ifndef TESTS_PHYSICS_PLANT_LINE_H
#define TESTS_PHYSICS_PLANT_LINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { PLANT_LINE_CIRCUITS = 8, PLANT_LINE_LOT = 32 };

/* In the order in which they stand in a line's settings: coil, discrete, ... */
enum plant_line_table {
	PLANT_LINE_COIL,
	PLANT_LINE_DISCRETE,
	PLANT_LINE_HOLDING,
	PLANT_LINE_INPUT
};

/* NAN: there was no such thing. */
struct plant_line_sheet {
	int64_t number; /* from 1 */
	char lot[PLANT_LINE_LOT];
	const char *outcome; /* linesim's: "complete", "empty", ... */
	/* seconds since the start */
	double heat_start_s, heat_end_s, form_start_s, form_end_s, left_s;
	double start_c, thickness_m, melt_flow, conductivity; /* W/(m K) */
	/* Where the pyrometers look, the mean of the zones. */
	double surface_heat_end_c; /* of both faces */
	double core_heat_end_c, mean_heat_end_c;
	double core_form_start_c, mean_form_start_c;
	double sheet_mean_form_start_c; /* of the whole sheet */
	double given_kj; /* its heat above linesim's demould temperature */
	/* To the water, from the demoulding before it to its own. */
	double water_kj[PLANT_LINE_CIRCUITS];
};

struct plant_line;

/* How the pyrometers are, where it is not as ever. */
struct plant_line_optics {
	double heater_share; /* of what they see mirrored in the sheet: the elements */
	double lag_s;
};

struct plant_line_setup {
	uint64_t seed;
	uint64_t plant_seed; /* of the sensors' offsets, that stay; 0: `seed` */
	int64_t start_unix_s;
	const char *script; /* the text of one, as linesim reads it; NULL: nothing */
	const struct plant_line_optics *optics; /* NULL: as ever */
};

/* NULL, and the mistakes on stderr, when the script has some. */
struct plant_line *plant_line_new(const struct plant_line_setup *setup);
void plant_line_free(struct plant_line *line);

/* Steps on to `now_s` since the start; never back. */
void plant_line_run(struct plant_line *line, double now_s);

/* -1 when there is none. */
int plant_line_device(const char *name);

/* Brings the registers up to date; false when the device does not answer.  Late answers
 * come in time here. */
bool plant_line_ask(struct plant_line *line, int device);

/* As of the last plant_line_ask. */
uint16_t plant_line_word(const struct plant_line *line, int device,
    enum plant_line_table table, int address);

/* The sheets that have left the form station, in this order; lent until the next
 * plant_line_run. */
const struct plant_line_sheet *plant_line_sheets(
    const struct plant_line *line, size_t *count);

#endif
