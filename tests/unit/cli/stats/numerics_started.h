/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The set-up of a group of tests: GSL as the program has it. */
#ifndef TESTS_UNIT_CLI_STATS_NUMERICS_STARTED_H
#define TESTS_UNIT_CLI_STATS_NUMERICS_STARTED_H

#include "cli/stats/numerics.h"

static inline int
numerics_started(void **state)
{
	(void)state;
	numerics_start();
	return 0;
}

#endif
