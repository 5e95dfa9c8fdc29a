/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/registers.h"

#include <assert.h>
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

enum encoding { ENCODING_INT16, ENCODING_UINT16, ENCODING_UINT32, ENCODING_FLOAT32 };

/* `count` values one after another; `offset` finds the first in struct signals. */
struct group {
	const char *name;
	enum device device;
	enum table table;
	int address, count;
	enum encoding encoding;
	enum word_order order; /* of values in two registers */
	double scale;          /* value = register times scale */
	size_t offset;
};

static const struct group groups[] = {
    {"surface_top", DEVICE_PYROMETERS, TABLE_INPUT, 0, 3, ENCODING_INT16, ORDER_ABCD,
	0.1, offsetof(struct signals, surface_c[0])},
    {"surface_bottom", DEVICE_PYROMETERS, TABLE_INPUT, 3, 3, ENCODING_INT16, ORDER_ABCD,
	0.1, offsetof(struct signals, surface_c[1])},
    {"stack", DEVICE_PYROMETERS, TABLE_INPUT, 20, 1, ENCODING_INT16, ORDER_ABCD, 0.1,
	offsetof(struct signals, stack_c)},
    {"ambient", DEVICE_PYROMETERS, TABLE_INPUT, 21, 1, ENCODING_INT16, ORDER_ABCD, 0.1,
	offsetof(struct signals, ambient_c)},
    {"zone_top", DEVICE_OVENS, TABLE_HOLDING, 0, 24, ENCODING_UINT16, ORDER_ABCD, 0.1,
	offsetof(struct signals, output_percent[0])},
    {"zone_bottom", DEVICE_OVENS, TABLE_HOLDING, 100, 24, ENCODING_UINT16, ORDER_ABCD,
	0.01, offsetof(struct signals, output_percent[1])},
    {"energy", DEVICE_OVENS, TABLE_HOLDING, 200, 1, ENCODING_UINT32, ORDER_CDAB, 0.01,
	offsetof(struct signals, energy_kwh)},
    {"tool", DEVICE_WATER, TABLE_HOLDING, 0, 8, ENCODING_FLOAT32, ORDER_CDAB, 1,
	offsetof(struct signals, tool_c)},
    {"water_return", DEVICE_WATER, TABLE_HOLDING, 40, 8, ENCODING_INT16, ORDER_ABCD,
	0.1, offsetof(struct signals, return_c)},
    {"water_supply", DEVICE_WATER, TABLE_HOLDING, 60, 1, ENCODING_FLOAT32, ORDER_BADC,
	1, offsetof(struct signals, supply_c)},
    {"water_flow", DEVICE_WATER, TABLE_HOLDING, 70, 8, ENCODING_UINT16, ORDER_ABCD, 0.1,
	offsetof(struct signals, flow_lpm)},
};
enum { GROUP_COUNT = sizeof groups / sizeof groups[0] };

/* The addresses that are answered; what lies outside is exception 02.  Addresses
 * without a value of ours read 0. */
static const struct {
	enum device device;
	enum table table;
	int first, last;
} extents[] = {
    {DEVICE_CONTROLLER, TABLE_DISCRETE, 0, 7},
    {DEVICE_CONTROLLER, TABLE_HOLDING, 0, 13},
    {DEVICE_CONTROLLER, TABLE_HOLDING, 20, 31},
    {DEVICE_PYROMETERS, TABLE_INPUT, 0, 5},
    {DEVICE_PYROMETERS, TABLE_INPUT, 20, 21},
    {DEVICE_OVENS, TABLE_HOLDING, 0, 201},
    {DEVICE_WATER, TABLE_HOLDING, 0, 15},
    {DEVICE_WATER, TABLE_HOLDING, 40, 47},
    {DEVICE_WATER, TABLE_HOLDING, 60, 61},
    {DEVICE_WATER, TABLE_HOLDING, 70, 77},
};

const char *const device_names[DEVICE_COUNT + 1] = {
    [DEVICE_CONTROLLER] = "controller",
    [DEVICE_PYROMETERS] = "pyrometers",
    [DEVICE_OVENS] = "ovens",
    [DEVICE_WATER] = "water",
};

void
registers_init(struct registers *registers)
{
	static const uint8_t unit_ids[DEVICE_COUNT] = {1, 1, 5, 2};
	static const int registers_max[DEVICE_COUNT] = {32, 125, 125, 125};

	*registers = (struct registers){0};
	for (int device = 0; device < DEVICE_COUNT; device++) {
		registers->banks[device].unit_id = unit_ids[device];
		registers->banks[device].registers_max = registers_max[device];
	}
	for (size_t i = 0; i < sizeof extents / sizeof extents[0]; i++)
		for (int address = extents[i].first; address <= extents[i].last;
		     address++)
			registers->banks[extents[i].device]
			    .served[extents[i].table][address] = true;
}

void
registers_put_u32(uint16_t words[2], enum word_order order, uint32_t value)
{
	bool low_first = order == ORDER_CDAB || order == ORDER_DCBA;
	bool swapped = order == ORDER_BADC || order == ORDER_DCBA;
	uint16_t high = (uint16_t)(value >> 16), low = (uint16_t)value;

	if (swapped) {
		high = (uint16_t)(high << 8 | high >> 8);
		low = (uint16_t)(low << 8 | low >> 8);
	}
	words[0] = low_first ? low : high;
	words[1] = low_first ? high : low;
}

void
registers_put_float(uint16_t words[2], enum word_order order, float value)
{
	uint32_t bits;

	static_assert(sizeof bits == sizeof value, "float is IEEE 754 single");
	memcpy(&bits, &value, sizeof bits);
	registers_put_u32(words, order, bits);
}

uint16_t
registers_int16(double value, double scale)
{
	double steps = fmin(fmax(round(value / scale), -32767), 32766);
	return (uint16_t)(int16_t)steps;
}

uint16_t
registers_uint16(double value, double scale)
{
	return (uint16_t)fmin(fmax(round(value / scale), 0), 65535);
}

static int
group_words(const struct group *group)
{
	return group->encoding == ENCODING_UINT32 || group->encoding == ENCODING_FLOAT32
	           ? 2
	           : 1;
}

static void
put_value(uint16_t *words, const struct group *group, double value)
{
	switch (group->encoding) {
	case ENCODING_INT16:
		words[0] = registers_int16(value, group->scale);
		break;
	case ENCODING_UINT16:
		words[0] = registers_uint16(value, group->scale);
		break;
	case ENCODING_UINT32:
		registers_put_u32(
		    words, group->order, (uint32_t)llround(value / group->scale));
		break;
	case ENCODING_FLOAT32:
		registers_put_float(words, group->order, (float)(value / group->scale));
		break;
	}
}

/* What an open sensor shows: full scale, or a float that is no number. */
static void
put_open(uint16_t *words, const struct group *group)
{
	switch (group->encoding) {
	case ENCODING_INT16:
		words[0] = 0x7fff;
		break;
	case ENCODING_UINT16:
		words[0] = 0xffff;
		break;
	case ENCODING_UINT32:
		registers_put_u32(words, group->order, UINT32_MAX);
		break;
	case ENCODING_FLOAT32:
		registers_put_float(words, group->order, NAN);
		break;
	}
}

static void
update_controller(struct bank *bank, const struct signals *signals)
{
	bank->word[TABLE_DISCRETE][0] = signals->rotating;
	bank->word[TABLE_DISCRETE][1] = signals->form_closed;
	bank->word[TABLE_DISCRETE][2] = signals->sag_eye;
	bank->word[TABLE_HOLDING][10] =
	    (uint16_t)(signals->sheet_at_load << 0 | signals->sheet_at_form << 1 |
		       signals->automatic << 2 | signals->fault << 3);
	bank->word[TABLE_HOLDING][11] = signals->recipe;
	registers_put_u32(
	    &bank->word[TABLE_HOLDING][12], ORDER_ABCD, signals->cycle_count);
}

void
registers_update(
    struct registers *registers, const struct signals *signals, int64_t now)
{
	int point = 0;

	update_controller(&registers->banks[DEVICE_CONTROLLER], signals);
	for (int i = 0; i < GROUP_COUNT; i++) {
		const struct group *group = &groups[i];
		struct bank *bank = &registers->banks[group->device];
		const double *values =
		    (const double *)(const void *)((const char *)signals +
						   group->offset);
		uint16_t *words = &bank->word[group->table][group->address];

		for (int k = 0; k < group->count;
		     k++, point++, words += group_words(group)) {
			if (registers->frozen_until[point] > now)
				continue;
			if (registers->open_until[point] > now)
				put_open(words, group);
			else
				put_value(words, group, values[k]);
		}
	}
}

int
registers_find_point(const char *name)
{
	int point = 0;
	char candidate[64];

	for (int i = 0; i < GROUP_COUNT; i++)
		for (int k = 0; k < groups[i].count; k++, point++) {
			const char *device = device_names[groups[i].device];
			if (groups[i].count == 1)
				snprintf(candidate, sizeof candidate, "%s.%s", device,
				    groups[i].name);
			else
				snprintf(candidate, sizeof candidate, "%s.%s_%d",
				    device, groups[i].name, k + 1);
			if (strcmp(candidate, name) == 0)
				return point;
		}
	assert(point <= POINT_COUNT_MAX);
	return -1;
}
