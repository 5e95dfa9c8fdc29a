/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Every fault of the simulated plant, strong, on few plants: its cause is named.  And in
 * healthy shots next to nothing is.  `make findings` prints the whole of it.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

#include "tests/physics/findings_table.h"
#include "tests/physics/player.h"
#include "tests/physics/workers.h"
#include "tests/unit/seed.h"

enum {
	PLANTS = 2,
	STRONG = FAULT_STRENGTHS - 1,
	HEALTHY_RUNS = 5, /* of each plant */
	HEALTHY_SHOTS = 100,
	/* Measured: see `make findings`; with a margin for other seeds. */
	NOT_NAMED_MAX = 4,
	LATE_MAX = 8, /* shots with the fault until it is named, median of a row */
	ALARMS_MAX = 2,
};

static struct settings *settings;
static struct trial *trials[PLANTS];

static int
make_plants(void **state)
{
	unsigned seed = seed_take(1);

	(void)state;
	settings = player_settings();
	for (int i = 0; i < PLANTS; i++)
		trials[i] = trial_new(settings, seed + (unsigned)i);
	return 0;
}

static int
forget_plants(void **state)
{
	(void)state;
	for (int i = 0; i < PLANTS; i++)
		trial_free(trials[i]);
	settings_free(settings);
	return 0;
}

struct count {
	int not_named, wrong, late;
};

static void
make_row(void *arg, int i, void *result)
{
	struct findings_row row = findings_row_make(trials, PLANTS, &faults[i], STRONG);

	(void)arg;
	memcpy(result, &row, sizeof row);
}

static void
take_row(void *arg, int i, const void *result)
{
	const struct findings_row *row = result;
	struct count *count = arg;

	findings_print_row(&faults[i], STRONG, row);
	count->not_named += row->trials - row->outcomes[TRIAL_NAMED];
	count->wrong += row->outcomes[TRIAL_WRONG];
	count->late += row->shots_until > LATE_MAX;
}

static void
a_strong_fault_is_named_soon(void **state)
{
	struct count count = {0};

	(void)state;
	findings_print_head();
	workers_run(&(struct workers_job){.count = fault_count,
	    .bytes = sizeof(struct findings_row),
	    .work = make_row,
	    .take = take_row,
	    .arg = &count});
	assert_true(count.not_named <= NOT_NAMED_MAX);
	assert_true(count.wrong <= NOT_NAMED_MAX / 2);
	assert_true(count.late <= 3); /* what comes over two hours is named later */
}

static void
healthy_shots_name_next_to_nothing(void **state)
{
	int alarms[FINDING_CAUSE_COUNT] = {0}, named = 0;

	(void)state;
	for (int i = 0; i < PLANTS; i++)
		trial_healthy(trials[i], HEALTHY_RUNS, HEALTHY_SHOTS, alarms);
	findings_print_alarms(PLANTS * HEALTHY_RUNS * HEALTHY_SHOTS, alarms);
	for (int cause = 0; cause < FINDING_CAUSE_COUNT; cause++)
		named += cause == FINDING_DISAGREES ? 0 : alarms[cause];
	assert_true(named <= ALARMS_MAX);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_strong_fault_is_named_soon),
	    cmocka_unit_test(healthy_shots_name_next_to_nothing),
	};
	return cmocka_run_group_tests(tests, make_plants, forget_plants);
}
