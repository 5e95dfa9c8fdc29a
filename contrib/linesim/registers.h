/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The register map: the devices, what they answer at which address and in which
 * encoding, and what may be wrong with them.  The examples under conf/ describe the
 * same map to the daemon; README.md lists it for people.
 *
 * A second oven and the tool of a second side have devices of their own with the map
 * of the first; the controller is one.
 *
 * Pure data; one object belongs to one thread.  Times are steps of the simulation.
 */
#ifndef CONTRIB_LINESIM_REGISTERS_H
#define CONTRIB_LINESIM_REGISTERS_H

#include "contrib/linesim/oven.h"
#include "contrib/linesim/tool.h"

#include <stdbool.h>
#include <stdint.h>

enum device {
	DEVICE_CONTROLLER,
	DEVICE_PYROMETERS,
	DEVICE_OVENS,
	DEVICE_WATER,
	DEVICE_PYROMETERS_B, /* of the second oven */
	DEVICE_OVENS_B,
	DEVICE_WATER_B, /* of the second side */
};
enum { DEVICE_COUNT = 7, OVENS_MAX = 2, SIDES_MAX = 2 };

enum table { TABLE_COIL, TABLE_DISCRETE, TABLE_HOLDING, TABLE_INPUT };
enum { TABLE_COUNT = 4, TABLE_SIZE = 348, PYROMETERS_A_SIDE = 3 };

/* Of a value in two registers: how its bytes, most significant first, are sent. */
enum word_order { ORDER_ABCD, ORDER_CDAB, ORDER_BADC, ORDER_DCBA };

struct oven_signals {
	double surface_c[SHEET_FACES][PYROMETERS_A_SIDE];
	double output_percent[SHEET_FACES][OVEN_ZONES];
	double set_percent[SHEET_FACES][OVEN_ZONES];
	double energy_kwh;
};

struct tool_signals {
	double tool_c[TOOL_ZONES], return_c[TOOL_ZONES], flow_lpm[TOOL_ZONES];
	double supply_c;
};

/* What the line shows of itself at one step; temperatures with the sensors' errors. */
struct signals {
	bool rotating, sag_eye, sheet_at_load, sheet_at_form, automatic, fault;
	bool form_closed[SIDES_MAX], oven_in[SIDES_MAX], clamp_closed[SIDES_MAX],
	    sheet_in_frame[SIDES_MAX];
	double vacuum_mbar[SIDES_MAX]; /* in the form; negative: under the hall's */
	uint16_t recipe;
	uint32_t cycle_count;
	double stack_c, ambient_c;
	struct oven_signals ovens[OVENS_MAX];
	struct tool_signals tools[SIDES_MAX];
};

/* One device: its tables, and how it behaves towards its masters. */
struct bank {
	uint8_t unit_id;
	int registers_max;                      /* a longer read is refused */
	uint16_t word[TABLE_COUNT][TABLE_SIZE]; /* bits: 0 or 1 */
	bool served[TABLE_COUNT][TABLE_SIZE];
	int64_t silent_until, exception_until, late_until;
	int exception_code;
	int64_t delay_steps; /* of a late answer */
};

enum { POINT_COUNT_MAX = 288 };

struct registers {
	struct bank banks[DEVICE_COUNT];
	/* a broken sensor, a value that stands still; by point */
	int64_t open_until[POINT_COUNT_MAX], frozen_until[POINT_COUNT_MAX];
	double offset[POINT_COUNT_MAX]; /* shown so much too high */
	/* until then it shows what is at the other */
	int64_t swapped_until[POINT_COUNT_MAX];
	int other[POINT_COUNT_MAX];
};

/* "controller", "pyrometers", "ovens", "water", "pyrometers-b" ... and NULL. */
extern const char *const device_names[DEVICE_COUNT + 1];

/* Whether a line of so many ovens and sides has the device. */
bool registers_have(enum device device, int ovens, int sides);

void registers_init(struct registers *registers);

/* Writes what the line shows at step `now` into the registers. */
void registers_update(
    struct registers *registers, const struct signals *signals, int64_t now);

/* The point "water.tool_3", one of those with a sensor; -1 when there is none. */
int registers_find_point(const char *name);

/* Puts a value into two words. */
void registers_put_u32(uint16_t words[2], enum word_order order, uint32_t value);
void registers_put_float(uint16_t words[2], enum word_order order, float value);

/* Value over scale, rounded, held within what the register can tell: an int16 ends
 * one short of the sentinels 0x7fff and 0x8000. */
uint16_t registers_int16(double value, double scale);
uint16_t registers_uint16(double value, double scale);

#endif
