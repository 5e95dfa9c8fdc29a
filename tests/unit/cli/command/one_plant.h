/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For programs whose every test has one plant, empty at first: their set-up and teardown.
 * Included last: in other headers a `plant` is an argument. */
#ifndef TESTS_UNIT_CLI_COMMAND_ONE_PLANT_H
#define TESTS_UNIT_CLI_COMMAND_ONE_PLANT_H

#include "tests/unit/cli/command/plant.h"

static struct plant plant;

static int
open_plant(void **state)
{
	(void)state;
	unsetenv("COLUMNS"); /* of whoever runs the test */
	plant_open(&plant);
	return 0;
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

#endif
