/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What polling is held against: bare libmodbus calls that read the blocks of a plan.
 */
#ifndef TESTS_BENCH_BARE_H
#define TESTS_BENCH_BARE_H

#include <modbus/modbus.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "daemon/fieldbus/plan.h"

static inline modbus_t *
bare_open(int port)
{
	modbus_t *modbus = modbus_new_tcp("127.0.0.1", port);

	if (!modbus || modbus_set_slave(modbus, 1) || modbus_connect(modbus)) {
		fprintf(stderr, "bare libmodbus: no connection\n");
		exit(1);
	}
	return modbus;
}

static inline void
bare_close(modbus_t *modbus)
{
	modbus_close(modbus);
	modbus_free(modbus);
}

static inline bool
bare_read_block(modbus_t *modbus, const struct read_block *block)
{
	uint16_t words[MODBUS_MAX_READ_REGISTERS];
	uint8_t bits[MODBUS_MAX_READ_BITS];
	int first = block->first, count = block->count;

	switch (block->table) {
	case TABLE_COIL:
		return modbus_read_bits(modbus, first, count, bits) == count;
	case TABLE_DISCRETE:
		return modbus_read_input_bits(modbus, first, count, bits) == count;
	case TABLE_HOLDING:
		return modbus_read_registers(modbus, first, count, words) == count;
	case TABLE_INPUT:
		return modbus_read_input_registers(modbus, first, count, words) ==
		       count;
	}
	return false;
}

/* One scan. */
static inline void
bare_read(modbus_t *modbus, const struct read_plan *plan)
{
	for (size_t i = 0; i < plan->block_count; i++)
		if (!bare_read_block(modbus, &plan->blocks[i])) {
			fprintf(stderr, "bare libmodbus: no answer\n");
			exit(1);
		}
}

#endif
