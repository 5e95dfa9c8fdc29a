/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A link to the units of slaves.h, and what they must be answered with.
 */
#ifndef TESTS_UNIT_DAEMON_FIELDBUS_SERIAL_LINE_H
#define TESTS_UNIT_DAEMON_FIELDBUS_SERIAL_LINE_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "conf/register.h"
#include "conf/settings.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/link.h"
#include "daemon/fieldbus/plan.h"
#include "tests/unit/daemon/fieldbus/slaves.h"

struct serial_line {
	struct bus_settings bus;
	struct device_settings device;
	struct link *link;
	struct error error; /* of the last read that was not good */
	uint16_t words[PLAN_BITS_MAX];
};

static inline void
serial_line_init(struct serial_line *line, const char *path, double timeout_s)
{
	*line = (struct serial_line){
	    .bus = {.kind = BUS_SERIAL, .name = "line", .baud = 115200, .stop_bits = 1},
	    .device = {.timeout_s = timeout_s},
	};
	snprintf(line->bus.path, sizeof line->bus.path, "%s", path);
	line->link = link_new(&line->bus);
	assert_non_null(line->link);
}

static inline void
serial_line_open(struct serial_line *line, const char *path, double timeout_s)
{
	serial_line_init(line, path, timeout_s);
	if (link_open(line->link, 0, &line->error))
		fail_msg("%s", line->error.text);
}

static inline enum answer
serial_line_read(struct serial_line *line, int unit_id, const struct read_block *block)
{
	line->device.unit_id = unit_id;
	line->error.text[0] = '\0';
	memset(line->words, 0x5A, sizeof line->words);
	return link_read(line->link, &line->device, block, line->words, &line->error);
}

/* Whether the words are those of the block of the unit, all of them. */
static inline bool
serial_line_is_right(
    const struct serial_line *line, int unit_id, const struct read_block *block)
{
	int function = (int)block->table + 1;

	for (int i = 0; i < block->count; i++) {
		int address = block->first + i;
		uint16_t right = register_is_bit(block->table)
		                     ? server_bit(unit_id, function, address)
		                     : server_register(unit_id, function, address);

		if (line->words[i] != right)
			return false;
	}
	return true;
}

/* With a longer time-out: this machine has other work, and it costs nothing. */
static inline void
serial_line_expect(
    struct serial_line *line, int unit_id, const struct read_block *block)
{
	double timeout_s = line->device.timeout_s;
	enum answer answer;

	line->device.timeout_s = timeout_s > 1 ? timeout_s : 1;
	answer = serial_line_read(line, unit_id, block);
	line->device.timeout_s = timeout_s;
	if (answer != ANSWER_GOOD)
		fail_msg("unit %d: %s", unit_id, line->error.text);
	assert_true(serial_line_is_right(line, unit_id, block));
}

static inline double
seconds_since(struct mono start)
{
	return (double)(clock_mono().ns - start.ns) / (double)CLOCK_SECOND_NS;
}

#endif
