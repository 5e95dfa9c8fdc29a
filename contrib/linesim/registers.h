/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The register map: four devices, what they answer at which address and in which
 * encoding, and what may be wrong with them.  conf/demo.ini describes the same map
 * to the daemon; README.md lists it for people.
 *
 * Pure data; one object belongs to one thread.  Times are steps of the simulation.
 */
#ifndef CONTRIB_LINESIM_REGISTERS_H
#define CONTRIB_LINESIM_REGISTERS_H

#include "contrib/linesim/oven.h"
#include "contrib/linesim/tool.h"

#include <stdbool.h>
#include <stdint.h>

enum device { DEVICE_CONTROLLER, DEVICE_PYROMETERS, DEVICE_OVENS, DEVICE_WATER };
enum { DEVICE_COUNT = 4 };

enum table { TABLE_COIL, TABLE_DISCRETE, TABLE_HOLDING, TABLE_INPUT };
enum { TABLE_COUNT = 4, TABLE_SIZE = 256, PYROMETERS_A_SIDE = 3 };

/* Of a value in two registers: how its bytes, most significant first, are sent. */
enum word_order { ORDER_ABCD, ORDER_CDAB, ORDER_BADC, ORDER_DCBA };

/* What the line shows of itself at one step; temperatures with the sensors' errors. */
struct signals {
	bool rotating, form_closed, sag_eye, sheet_at_load, sheet_at_form;
	bool automatic, fault;
	uint16_t recipe;
	uint32_t cycle_count;
	double surface_c[SHEET_FACES][PYROMETERS_A_SIDE];
	double stack_c, ambient_c;
	double output_percent[SHEET_FACES][OVEN_ZONES];
	double energy_kwh;
	double tool_c[TOOL_ZONES], return_c[TOOL_ZONES], flow_lpm[TOOL_ZONES];
	double supply_c;
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

enum { POINT_COUNT_MAX = 96 };

struct registers {
	struct bank banks[DEVICE_COUNT];
	/* a broken sensor, a value that stands still; by point */
	int64_t open_until[POINT_COUNT_MAX], frozen_until[POINT_COUNT_MAX];
};

/* "controller", "pyrometers", "ovens", "water". */
extern const char *const device_names[DEVICE_COUNT + 1];

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
