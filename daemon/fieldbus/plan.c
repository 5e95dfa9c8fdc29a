/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/plan.h"

#include <stdlib.h>

#include "conf/register.h"

/* The registers or bits of one channel.  32 bits wide, so that no sum wraps. */
struct extent {
	enum register_table table;
	uint32_t first, last;
	uint32_t channel; /* within the device */
};

static struct extent
extent_of(const struct channel_settings *channel, uint32_t index)
{
	uint32_t width =
	    register_is_bit(channel->table) ? 1 : register_width(channel->encoding);

	return (struct extent){
	    .table = channel->table,
	    .first = channel->address,
	    .last = channel->address + width - 1,
	    .channel = index,
	};
}

static int
compare(uint32_t a, uint32_t b)
{
	return (a > b) - (a < b);
}

static int
extent_order(const void *left, const void *right)
{
	const struct extent *a = left, *b = right;
	int order = compare(a->table, b->table);

	if (order == 0)
		order = compare(a->first, b->first);
	if (order == 0)
		order = compare(a->last, b->last);
	return order ? order : compare(a->channel, b->channel);
}

static bool
touches_hole(const struct device_settings *device, enum register_table table,
    uint32_t first, uint32_t last)
{
	for (int i = 0; i < device->hole_count; i++) {
		const struct hole *hole = &device->holes[i];

		if (hole->table == table && hole->first <= last && hole->last >= first)
			return true;
	}
	return false;
}

/* Whether the block can be made longer to take the extent in. */
static bool
can_join(const struct device_settings *device, const struct read_block *block,
    const struct extent *extent)
{
	uint32_t most = register_is_bit(block->table) ? (uint32_t)PLAN_BITS_MAX
	                                              : (uint32_t)device->max_registers;

	return block->table == extent->table && extent->last - block->first < most &&
	       !touches_hole(device, block->table, block->first, extent->last);
}

/*
 * From the lowest address up, each block as long as it can be: since every extent
 * must lie in some block and only the length and the holes bound one, no other
 * choice needs fewer blocks.
 */
static void
fill(struct read_plan *plan, const struct device_settings *device,
    const struct extent *extents, uint32_t extent_count)
{
	struct read_block *block = NULL;

	for (uint32_t i = 0; i < extent_count; i++) {
		const struct extent *extent = &extents[i];
		uint32_t count;

		if (!block || !can_join(device, block, extent)) {
			block = &plan->blocks[plan->block_count++];
			*block = (struct read_block){
			    .table = extent->table,
			    .first = (uint16_t)extent->first,
			};
		}
		count = extent->last - block->first + 1;
		if (count > block->count)
			block->count = (uint16_t)count;
		plan->places[extent->channel] = (struct read_place){
		    .block = (uint32_t)(plan->block_count - 1),
		    .offset = (uint16_t)(extent->first - block->first),
		};
	}
}

static void
fill_group(struct read_plan *plan, const struct settings *settings,
    const struct group_settings *group, struct extent *extents)
{
	const struct device_settings *device = &settings->devices[plan->device];
	struct plan_group *blocks = &plan->groups[plan->group_count++];

	for (uint32_t i = 0; i < group->count; i++)
		extents[i] = extent_of(
		    &settings->channels[device->first_channel + group->first + i],
		    group->first + i);
	qsort(extents, group->count, sizeof *extents, extent_order);
	blocks->first = plan->block_count;
	fill(plan, device, extents, group->count);
	blocks->count = plan->block_count - blocks->first;
}

struct read_plan *
plan_new(const struct settings *settings, uint32_t device_index)
{
	const struct device_settings *device = &settings->devices[device_index];
	uint32_t count = device->channel_count;
	size_t room = count ? count : 1; /* calloc(0) may be NULL */
	struct read_plan *plan = calloc(1, sizeof *plan);
	struct extent *extents = calloc(room, sizeof *extents);

	if (plan) {
		plan->device = device_index;
		plan->channel_count = count;
		plan->blocks = calloc(room, sizeof *plan->blocks);
		plan->places = calloc(room, sizeof *plan->places);
	}
	if (!plan || !extents || !plan->blocks || !plan->places) {
		plan_free(plan);
		free(extents);
		return NULL;
	}
	for (int i = 0; i < device->group_count; i++)
		fill_group(plan, settings, &device->groups[i], extents);
	free(extents);
	return plan;
}

void
plan_free(struct read_plan *plan)
{
	if (!plan)
		return;
	free(plan->blocks);
	free(plan->places);
	free(plan);
}
