/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/findings.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "daemon/base/error.h"
#include "tests/unit/cli/findings/plant.h"
#include "tests/unit/seed.h"

enum { REFERENCE = 120 };

static struct line_settings line;
static struct findings_shot reference[REFERENCE];
static struct finding findings[FINDINGS_MAX];
static const struct effect dirt = {
    .own_dc = -5.3, .position = 3, .side = 1, .rate_bottom_ratio = -0.013};

/* However often a fault came and went before, the one that is there is told. */
static void
the_last_of_many_is_told(void **state)
{
	enum { TIMES = 40, LENGTH = 12, MANY = (TIMES + 1) * 2 * LENGTH };
	static struct findings_shot many[MANY];
	struct plant plant;
	struct profile *profile;
	struct error error;
	bool there = false;

	(void)state;
	plant_init(&plant, seed_take(1));
	plant_shots(&plant, NULL, "A", reference, REFERENCE);
	profile = profile_new(&line, reference, REFERENCE, &error);
	assert_non_null(profile);
	for (int i = 0; i <= TIMES; i++) {
		plant_shots(&plant, NULL, "A", many + 2 * i * LENGTH, LENGTH);
		plant_shots(&plant, &dirt, "A", many + (2 * i + 1) * LENGTH, LENGTH);
	}
	size_t n = findings_judge(profile, many, MANY, findings, FINDINGS_MAX);
	assert_in_range(n, 1, FINDINGS_MAX);
	for (size_t i = 0; i < n; i++)
		there |= findings[i].cause == FINDING_WINDOW && findings[i].lasting;
	assert_true(there);
	profile_free(profile);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_last_of_many_is_told),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
