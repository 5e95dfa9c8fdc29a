/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/plan.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <cmocka.h>

#include "conf/register.h"
#include "tests/unit/seed.h"

enum { CHANNELS = 200 };

struct plant { /* settings of one device, its channels not the first ones */
	struct settings settings;
	struct device_settings device;
	struct channel_settings channels[1 + CHANNELS];
};

static void
plant_init(struct plant *plant)
{
	memset(plant, 0, sizeof *plant);
	plant->settings.devices = &plant->device;
	plant->settings.device_count = 1;
	plant->settings.channels = plant->channels;
	plant->settings.channel_count = 1;
	plant->device.first_channel = 1;
	plant->device.max_registers = 125;
}

static void
add(struct plant *plant, enum register_table table, int address, enum encoding encoding)
{
	plant->channels[1 + plant->device.channel_count++] = (struct channel_settings){
	    .table = table,
	    .address = (uint16_t)address,
	    .encoding = encoding,
	};
	plant->settings.channel_count++;
}

/* Of all channels in one group, unless a test made more. */
static struct read_plan *
make_plan(struct plant *plant)
{
	if (plant->device.channel_count && !plant->device.group_count) {
		plant->device.group_count = 1;
		plant->device.groups[0].count = plant->device.channel_count;
	}
	return plan_new(&plant->settings, 0);
}

static void
add_hole(struct plant *plant, enum register_table table, int first, int last)
{
	plant->device.holes[plant->device.hole_count++] =
	    (struct hole){table, (uint16_t)first, (uint16_t)last};
}

static void
expect_block(const struct read_plan *plan, size_t index, enum register_table table,
    int first, int count)
{
	assert_true(index < plan->block_count);
	assert_int_equal(plan->blocks[index].table, table);
	assert_int_equal(plan->blocks[index].first, first);
	assert_int_equal(plan->blocks[index].count, count);
}

static void
unused_registers_are_read_over(void **state)
{
	struct plant plant;
	struct read_plan *plan;

	(void)state;
	plant_init(&plant);
	add(&plant, TABLE_HOLDING, 123, ENCODING_UINT32);
	add(&plant, TABLE_HOLDING, 0, ENCODING_INT16);
	plan = make_plan(&plant);
	assert_int_equal(plan->block_count, 1);
	expect_block(plan, 0, TABLE_HOLDING, 0, 125);
	assert_int_equal(plan->places[0].offset, 123);
	assert_int_equal(plan->places[1].offset, 0);
	plan_free(plan);
}

static void
holes_and_tables_part_blocks(void **state)
{
	struct plant plant;
	struct read_plan *plan;

	(void)state;
	plant_init(&plant);
	add(&plant, TABLE_INPUT, 0, ENCODING_INT16);
	add(&plant, TABLE_HOLDING, 0, ENCODING_INT16);
	add(&plant, TABLE_HOLDING, 20, ENCODING_INT16);
	add(&plant, TABLE_INPUT, 20, ENCODING_INT16);
	add_hole(&plant, TABLE_INPUT, 6, 19);
	plan = make_plan(&plant);
	assert_int_equal(plan->block_count, 3);
	expect_block(plan, 0, TABLE_HOLDING, 0, 21);
	expect_block(plan, 1, TABLE_INPUT, 0, 1);
	expect_block(plan, 2, TABLE_INPUT, 20, 1);
	plan_free(plan);
}

static void
a_value_of_32_bits_at_the_limit_goes_whole_into_the_next_block(void **state)
{
	struct plant plant;
	struct read_plan *plan;

	(void)state;
	plant_init(&plant);
	plant.device.max_registers = 16;
	add(&plant, TABLE_HOLDING, 0, ENCODING_UINT16);
	add(&plant, TABLE_HOLDING, 15, ENCODING_FLOAT32);
	add(&plant, TABLE_HOLDING, 65534, ENCODING_FLOAT32);
	plan = make_plan(&plant);
	assert_int_equal(plan->block_count, 3);
	expect_block(plan, 0, TABLE_HOLDING, 0, 1);
	expect_block(plan, 1, TABLE_HOLDING, 15, 2);
	expect_block(plan, 2, TABLE_HOLDING, 65534, 2);
	plan_free(plan);
}

static void
bits_come_two_thousand_at_a_time(void **state)
{
	struct plant plant;
	struct read_plan *plan;

	(void)state;
	plant_init(&plant);
	plant.device.max_registers = 1;
	add(&plant, TABLE_COIL, 5, ENCODING_BIT);
	add(&plant, TABLE_COIL, 2004, ENCODING_BIT);
	add(&plant, TABLE_COIL, 2005, ENCODING_BIT);
	plan = make_plan(&plant);
	assert_int_equal(plan->block_count, 2);
	expect_block(plan, 0, TABLE_COIL, 5, 2000);
	expect_block(plan, 1, TABLE_COIL, 2005, 1);
	plan_free(plan);
}

static void
a_device_without_channels_needs_no_request(void **state)
{
	struct plant plant;
	struct read_plan *plan;

	(void)state;
	plant_init(&plant);
	plan = make_plan(&plant);
	assert_int_equal(plan->block_count, 0);
	plan_free(plan);
	plan_free(NULL);
}

/* --- properties of any plan ---------------------------------------------------- */

static int
width_of(const struct channel_settings *channel)
{
	return register_is_bit(channel->table) ? 1 : register_width(channel->encoding);
}

static bool
in_hole(const struct plant *plant, enum register_table table, int first, int last)
{
	for (int i = 0; i < plant->device.hole_count; i++) {
		const struct hole *hole = &plant->device.holes[i];

		if (hole->table == table && hole->first <= last && hole->last >= first)
			return true;
	}
	return false;
}

/* Channels that a device can have: none of them in a hole or past the last address. */
static void
plant_randomize(struct plant *plant)
{
	int span = 1 + rand() % (rand() % 4 ? 400 : 65536);
	int wanted = rand() % CHANNELS;

	plant_init(plant);
	plant->device.max_registers = 2 + rand() % 124;
	for (int i = rand() % SETTINGS_HOLES; i > 0; i--) {
		int first = rand() % span;

		add_hole(plant, (enum register_table)(rand() % 4), first,
		    first + rand() % 8);
	}
	for (int i = 0; i < wanted; i++) {
		enum register_table table = (enum register_table)(rand() % 4);
		enum encoding encoding = (enum encoding)(rand() % 6);
		int address = rand() % span;
		int width = register_is_bit(table) ? 1 : register_width(encoding);

		if (address + width <= 65536 &&
		    !in_hole(plant, table, address, address + width - 1))
			add(plant, table, address, encoding);
	}
}

/* Parts the channels anywhere. */
static void
part_into_groups(struct plant *plant)
{
	struct device_settings *device = &plant->device;
	uint32_t first = 0;

	while (first < device->channel_count) {
		uint32_t left = device->channel_count - first;
		bool last = device->group_count == SETTINGS_GROUPS - 1;
		uint32_t count = last ? left : 1 + (uint32_t)rand() % left;

		device->groups[device->group_count++] =
		    (struct group_settings){.first = first, .count = count};
		first += count;
	}
}

static int
group_of(const struct plant *plant, uint32_t channel)
{
	for (int i = 0; i < plant->device.group_count; i++)
		if (channel - plant->device.groups[i].first <
		    plant->device.groups[i].count)
			return i;
	return -1;
}

/* Each block is of one group, and of the channels' own. */
static void
check_groups(const struct plant *plant, const struct read_plan *plan)
{
	size_t next = 0;

	assert_int_equal(plan->group_count, plant->device.group_count);
	for (int i = 0; i < plan->group_count; i++) {
		assert_int_equal(plan->groups[i].first, next);
		assert_true(plan->groups[i].count > 0);
		next += plan->groups[i].count;
	}
	assert_int_equal(next, plan->block_count);
	for (uint32_t i = 0; i < plan->channel_count; i++) {
		const struct plan_group *group = &plan->groups[group_of(plant, i)];

		assert_in_range(plan->places[i].block, group->first,
		    group->first + group->count - 1);
	}
}

static void
check_blocks(const struct plant *plant, const struct read_plan *plan)
{
	for (size_t i = 0; i < plan->block_count; i++) {
		const struct read_block *block = &plan->blocks[i];
		int most = register_is_bit(block->table) ? PLAN_BITS_MAX
		                                         : plant->device.max_registers;

		assert_in_range(block->count, 1, most);
		assert_false(in_hole(plant, block->table, block->first,
		    block->first + block->count - 1));
	}
}

/* Inside its block, whole, at its own address. */
static void
check_places(const struct plant *plant, const struct read_plan *plan)
{
	assert_int_equal(plan->channel_count, plant->device.channel_count);
	for (uint32_t i = 0; i < plan->channel_count; i++) {
		const struct channel_settings *channel = &plant->channels[1 + i];
		const struct read_place *place = &plan->places[i];
		const struct read_block *block = &plan->blocks[place->block];

		assert_true(place->block < plan->block_count);
		assert_int_equal(block->table, channel->table);
		assert_int_equal(block->first + place->offset, channel->address);
		assert_true(place->offset + width_of(channel) <= block->count);
	}
}

/* Of the narrowest channel that can only be in the block. */
static int
width_of_first(const struct plant *plant, const struct read_plan *plan, size_t block)
{
	int width = 0;

	for (uint32_t k = 0; k < plan->channel_count; k++) {
		int one = width_of(&plant->channels[1 + k]);

		if (plan->places[k].block == block && plan->places[k].offset == 0 &&
		    (width == 0 || one < width))
			width = one;
	}
	assert_true(width > 0);
	return width;
}

/*
 * Fewest: the first channels of two neighbouring blocks of a group cannot share one.
 * Then the blocks' first channels are pairwise apart, and each needs a request of its own.
 */
static void
check_fewest(const struct plant *plant, const struct read_plan *plan)
{
	for (int g = 0; g < plan->group_count; g++)
		for (size_t i = plan->groups[g].first;
		     i + 1 < plan->groups[g].first + plan->groups[g].count; i++) {
			const struct read_block *a = &plan->blocks[i],
						*b = &plan->blocks[i + 1];
			int most = register_is_bit(a->table)
			               ? PLAN_BITS_MAX
			               : plant->device.max_registers;
			int width = width_of_first(plant, plan, i + 1);

			if (a->table == b->table)
				assert_true(b->first + width - a->first > most ||
					    in_hole(plant, a->table, a->first,
						b->first + width - 1));
			else
				assert_true(a->table < b->table);
		}
}

static void
any_plan_is_whole_short_and_outside_holes(void **state)
{
	static struct plant plant;

	(void)state;
	srand(seed_take((unsigned)time(NULL)));
	for (int round = 0; round < 3000; round++) {
		struct read_plan *plan, *again;

		plant_randomize(&plant);
		part_into_groups(&plant);
		plan = make_plan(&plant);
		again = make_plan(&plant);
		check_blocks(&plant, plan);
		check_places(&plant, plan);
		check_groups(&plant, plan);
		check_fewest(&plant, plan);
		assert_int_equal(plan->block_count, again->block_count);
		assert_memory_equal(plan->blocks, again->blocks,
		    plan->block_count * sizeof *plan->blocks);
		plan_free(plan);
		plan_free(again);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(unused_registers_are_read_over),
	    cmocka_unit_test(holes_and_tables_part_blocks),
	    cmocka_unit_test(
		a_value_of_32_bits_at_the_limit_goes_whole_into_the_next_block),
	    cmocka_unit_test(bits_come_two_thousand_at_a_time),
	    cmocka_unit_test(a_device_without_channels_needs_no_request),
	    cmocka_unit_test(any_plan_is_whole_short_and_outside_holes),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
