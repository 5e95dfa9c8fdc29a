/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The read plan of a device: which blocks are asked for, and where each channel
 * lies in them.  Function codes 1 to 4 only.  Pure.
 */
#ifndef DAEMON_FIELDBUS_PLAN_H
#define DAEMON_FIELDBUS_PLAN_H

#include "conf/settings.h"

/* Bits that one request may ask for: Modbus Application Protocol V1.1b3, 6.1, 6.2. */
enum { PLAN_BITS_MAX = 2000 };

struct read_block {
	enum register_table table;
	uint16_t first;
	uint16_t count; /* registers or bits */
};

struct read_plan {
	uint32_t device;
	size_t block_count;
	struct read_block *blocks; /* those of a group stand together */
	int group_count;
	struct plan_group {
		size_t first, count; /* blocks */
	} groups[SETTINGS_GROUPS];
	uint32_t channel_count;
	struct read_place { /* of each channel, in the order of the settings */
		uint32_t block;
		uint16_t offset;
	} * places;
};

/*
 * A block is of one group.  As few requests for a group as the device's maximum and holes
 * allow, in the order of tables and addresses; a 32-bit value is never cut, not even where max_registers is 1.  Unused
 * registers between two channels are read over, holes are not; max_registers bounds
 * registers, PLAN_BITS_MAX coils and discrete inputs.  NULL when memory is short.
 * Free with plan_free.
 */
struct read_plan *plan_new(const struct settings *settings, uint32_t device);
void plan_free(struct read_plan *plan);

#endif
