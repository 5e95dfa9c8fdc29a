/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/registers.h"

#include <assert.h>
#include <math.h>
#include <stddef.h>
#include <stdio.h>
#include <string.h>

enum encoding { ENCODING_INT16, ENCODING_UINT16, ENCODING_UINT32, ENCODING_FLOAT32 };

/* `count` values one after another in every device like `device`; `offset` finds the
 * first of them in struct signals, `stride` those of the next such device. */
struct group {
	const char *name;
	enum device device;
	enum table table;
	int address, count;
	enum encoding encoding;
	enum word_order order; /* of values in two registers */
	double scale;          /* value = register times scale */
	size_t offset, stride;
};

#define COMMON(member) offsetof(struct signals, member), 0
#define OVEN(member) \
	offsetof(struct signals, ovens[0].member), sizeof(struct oven_signals)
#define TOOL(member) \
	offsetof(struct signals, tools[0].member), sizeof(struct tool_signals)

static const struct group groups[] = {
    {"vacuum", DEVICE_CONTROLLER, TABLE_HOLDING, 20, SIDES_MAX, ENCODING_INT16,
	ORDER_ABCD, 1, COMMON(vacuum_mbar)},
    {"surface_top", DEVICE_PYROMETERS, TABLE_INPUT, 0, 3, ENCODING_INT16, ORDER_ABCD,
	0.1, OVEN(surface_c[0])},
    {"surface_bottom", DEVICE_PYROMETERS, TABLE_INPUT, 3, 3, ENCODING_INT16, ORDER_ABCD,
	0.1, OVEN(surface_c[1])},
    {"stack", DEVICE_PYROMETERS, TABLE_INPUT, 20, 1, ENCODING_INT16, ORDER_ABCD, 0.1,
	COMMON(stack_c)},
    {"ambient", DEVICE_PYROMETERS, TABLE_INPUT, 21, 1, ENCODING_INT16, ORDER_ABCD, 0.1,
	COMMON(ambient_c)},
    {"zone_top", DEVICE_OVENS, TABLE_HOLDING, 0, 24, ENCODING_UINT16, ORDER_ABCD, 0.1,
	OVEN(output_percent[0])},
    {"zone_bottom", DEVICE_OVENS, TABLE_HOLDING, 100, 24, ENCODING_UINT16, ORDER_ABCD,
	0.01, OVEN(output_percent[1])},
    {"energy", DEVICE_OVENS, TABLE_HOLDING, 200, 1, ENCODING_UINT32, ORDER_CDAB, 0.01,
	OVEN(energy_kwh)},
    {"set_point", DEVICE_OVENS, TABLE_HOLDING, 300, 48, ENCODING_UINT16, ORDER_ABCD,
	0.1, OVEN(set_percent)},
    {"tool", DEVICE_WATER, TABLE_HOLDING, 0, 8, ENCODING_FLOAT32, ORDER_CDAB, 1,
	TOOL(tool_c)},
    {"water_return", DEVICE_WATER, TABLE_HOLDING, 40, 8, ENCODING_INT16, ORDER_ABCD,
	0.1, TOOL(return_c)},
    {"water_supply", DEVICE_WATER, TABLE_HOLDING, 60, 1, ENCODING_FLOAT32, ORDER_BADC,
	1, TOOL(supply_c)},
    {"water_flow", DEVICE_WATER, TABLE_HOLDING, 70, 8, ENCODING_UINT16, ORDER_ABCD, 0.1,
	TOOL(flow_lpm)},
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
    {DEVICE_OVENS, TABLE_HOLDING, 300, 347},
    {DEVICE_WATER, TABLE_HOLDING, 0, 15},
    {DEVICE_WATER, TABLE_HOLDING, 40, 47},
    {DEVICE_WATER, TABLE_HOLDING, 60, 61},
    {DEVICE_WATER, TABLE_HOLDING, 70, 77},
};

/* What a device is: like which of the first ones, and the how many-th of them. */
static const struct {
	enum device like;
	int instance;
	uint8_t unit_id;
	int registers_max;
} devices[DEVICE_COUNT] = {
    [DEVICE_CONTROLLER] = {DEVICE_CONTROLLER, 0, 1, 32},
    [DEVICE_PYROMETERS] = {DEVICE_PYROMETERS, 0, 1, 125},
    [DEVICE_OVENS] = {DEVICE_OVENS, 0, 5, 125},
    [DEVICE_WATER] = {DEVICE_WATER, 0, 2, 125},
    [DEVICE_PYROMETERS_B] = {DEVICE_PYROMETERS, 1, 1, 125},
    [DEVICE_OVENS_B] = {DEVICE_OVENS, 1, 5, 125},
    [DEVICE_WATER_B] = {DEVICE_WATER, 1, 2, 125},
};

const char *const device_names[DEVICE_COUNT + 1] = {
    [DEVICE_CONTROLLER] = "controller",
    [DEVICE_PYROMETERS] = "pyrometers",
    [DEVICE_OVENS] = "ovens",
    [DEVICE_WATER] = "water",
    [DEVICE_PYROMETERS_B] = "pyrometers-b",
    [DEVICE_OVENS_B] = "ovens-b",
    [DEVICE_WATER_B] = "water-b",
};

bool
registers_have(enum device device, int ovens, int sides)
{
	int have = devices[device].like == DEVICE_WATER ? sides : ovens;

	return devices[device].instance < have;
}

void
registers_init(struct registers *registers)
{
	*registers = (struct registers){0};
	for (int device = 0; device < DEVICE_COUNT; device++) {
		struct bank *bank = &registers->banks[device];
		bank->unit_id = devices[device].unit_id;
		bank->registers_max = devices[device].registers_max;
		for (size_t i = 0; i < sizeof extents / sizeof extents[0]; i++) {
			if (extents[i].device != devices[device].like)
				continue;
			for (int at = extents[i].first; at <= extents[i].last; at++)
				bank->served[extents[i].table][at] = true;
		}
	}
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

/* Where a side's bits lie: discrete inputs, and a bit of the status word. */
static const struct {
	int form_closed, oven_in, clamp_closed, sheet_in_frame;
} side_bits[SIDES_MAX] = {{1, 3, 4, 4}, {5, 6, 7, 5}};

static void
update_controller(struct bank *bank, const struct signals *signals)
{
	uint16_t *bits = bank->word[TABLE_DISCRETE], *words = bank->word[TABLE_HOLDING];

	bits[0] = signals->rotating;
	bits[2] = signals->sag_eye;
	words[10] =
	    (uint16_t)(signals->sheet_at_load << 0 | signals->sheet_at_form << 1 |
		       signals->automatic << 2 | signals->fault << 3);
	for (int side = 0; side < SIDES_MAX; side++) {
		bits[side_bits[side].form_closed] = signals->form_closed[side];
		bits[side_bits[side].oven_in] = signals->oven_in[side];
		bits[side_bits[side].clamp_closed] = signals->clamp_closed[side];
		words[10] |= (uint16_t)(signals->sheet_in_frame[side]
					<< side_bits[side].sheet_in_frame);
	}
	words[11] = signals->recipe;
	registers_put_u32(&words[12], ORDER_ABCD, signals->cycle_count);
}

/* One value of the map. */
struct point {
	const struct group *group;
	int device;
	int place; /* in the group */
};

/* Steps to the next point, in an order that is always the same; false after the last.
 * A point of zeros stands before the first. */
static bool
next_point(struct point *point)
{
	const struct group *end = groups + GROUP_COUNT;

	if (point->group != NULL && ++point->place < point->group->count)
		return true;
	point->place = 0;
	point->group = point->group == NULL ? groups : point->group + 1;
	for (;; point->device++, point->group = groups) {
		if (point->device == DEVICE_COUNT)
			return false;
		while (point->group < end &&
		       point->group->device != devices[point->device].like)
			point->group++;
		if (point->group < end)
			return true;
	}
}

static double
value_of(const struct point *point, const struct signals *signals)
{
	const struct group *group = point->group;
	size_t offset = group->offset +
	                group->stride * (size_t)devices[point->device].instance +
	                sizeof(double) * (size_t)point->place;
	double value;

	memcpy(&value, (const char *)signals + offset, sizeof value);
	return value;
}

/* What a point shows: its own value or another's, and how far its sensor is off. */
static double
shown_value(const struct registers *registers, const struct point *point, int place,
    const struct signals *signals, int64_t now)
{
	struct point other = {0};

	if (registers->swapped_until[place] <= now)
		return value_of(point, signals) + registers->offset[place];
	for (int i = 0; next_point(&other) && i < registers->other[place];)
		i++;
	return value_of(&other, signals) + registers->offset[place];
}

void
registers_update(
    struct registers *registers, const struct signals *signals, int64_t now)
{
	struct point point = {0};

	update_controller(&registers->banks[DEVICE_CONTROLLER], signals);
	for (int i = 0; next_point(&point); i++) {
		const struct group *group = point.group;
		uint16_t *words =
		    &registers->banks[point.device].word[group->table][group->address];

		words += point.place * group_words(group);
		if (registers->frozen_until[i] > now)
			continue;
		if (registers->open_until[i] > now)
			put_open(words, group);
		else
			put_value(words, group,
			    shown_value(registers, &point, i, signals, now));
	}
}

int
registers_find_point(const char *name)
{
	struct point point = {0};
	char candidate[64];

	for (int i = 0; next_point(&point); i++) {
		const char *device = device_names[point.device];
		assert(i < POINT_COUNT_MAX);
		if (point.group->count == 1)
			snprintf(candidate, sizeof candidate, "%s.%s", device,
			    point.group->name);
		else
			snprintf(candidate, sizeof candidate, "%s.%s_%d", device,
			    point.group->name, point.place + 1);
		if (strcmp(candidate, name) == 0)
			return i;
	}
	return -1;
}
