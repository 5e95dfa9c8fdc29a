/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For tests of close-shifts: the command at a time, and what came of it. */
#ifndef TESTS_UNIT_CLI_COMMAND_CLOSING_H
#define TESTS_UNIT_CLI_COMMAND_CLOSING_H

#include "tests/unit/cli/command/changed.h"
#include "tests/unit/cli/command/plant.h"
#include "tests/unit/near.h"

/* Of a `plant` of this name, with the clock at a time of 2026-03, UTC; the early shift is from
 * 5 to 13 o'clock. */
#define close_at(time, ...)                                                      \
	plant_run_command(&plant, "close-shifts", "--ledger", plant.ledger_path, \
	    "--format", "json", "--clock-rate", "1", "--clock-start", time,      \
	    __VA_ARGS__)

static inline void
assert_closed(struct plant *plant, double closed, double revised)
{
	if (plant->code != COMMAND_DONE)
		fail_msg("%s", plant->err);
	assert_near(plant_number_after(plant, "", "closed"), closed, 0);
	assert_near(plant_number_after(plant, "", "revised"), revised, 0);
}

#endif
