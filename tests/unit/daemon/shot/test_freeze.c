/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Times and sheets to bytes and back; times that no clock shows are refused both ways. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>

#include "daemon/shot/freeze.h"
#include "daemon/shot/sheet.h"

/* As whoever forges bytes would have it, past the checks of the writing side. */
static int64_t
thawed_time(int64_t ns, bool *failed)
{
	unsigned char bytes[sizeof(int64_t)];
	struct freeze freeze = freeze_into(bytes, sizeof(bytes));
	int64_t back = 0;

	freeze_i64(&freeze, &ns);
	freeze = freeze_from(bytes, freeze.length);
	freeze_time(&freeze, &back);
	*failed = freeze.failed;
	return back;
}

static void
a_time_within_the_bounds_comes_back(void **state)
{
	static const int64_t times[] = {
	    -INT64_MAX / 4, -1, 0, 1, INT64_C(3600000000000), INT64_MAX / 4};

	(void)state;
	for (size_t i = 0; i < sizeof(times) / sizeof(times[0]); i++) {
		bool failed;

		assert_true(thawed_time(times[i], &failed) == times[i]);
		assert_false(failed);
	}
}

static void
a_time_out_of_bounds_is_refused_both_ways(void **state)
{
	static const int64_t times[] = {
	    INT64_MIN, -INT64_MAX / 4 - 1, INT64_MAX / 4 + 1, INT64_MAX};

	(void)state;
	for (size_t i = 0; i < sizeof(times) / sizeof(times[0]); i++) {
		unsigned char bytes[sizeof(int64_t)];
		struct freeze freeze = freeze_into(bytes, sizeof(bytes));
		int64_t ns = times[i];
		bool failed;

		(void)thawed_time(times[i], &failed);
		assert_true(failed);
		freeze_time(&freeze, &ns);
		assert_true(freeze.failed);
	}
}

/* --- sheets --------------------------------------------------------------------------- */

static bool
is_frozen(struct sheet sheet)
{
	unsigned char bytes[4096];
	struct freeze freeze = freeze_into(bytes, sizeof(bytes));

	freeze_sheet(&freeze, &sheet);
	return !freeze.failed;
}

/* In the oven, loaded at its last poll. */
static struct sheet
usual(void)
{
	struct sheet sheet = sheet_at((struct mono){1000});

	sheet.number = 7;
	sheet.loaded = (struct edge){true, {900}, {1000}, {1700000000000000000}};
	sheet.stay_count = 1;
	sheet.stays[0].in = (struct edge){true, {2000}, {2500}, {1700000000000001500}};
	return sheet;
}

static void
a_sheet_comes_back(void **state)
{
	unsigned char bytes[4096];
	struct freeze freeze = freeze_into(bytes, sizeof(bytes));
	struct sheet sheet = usual(), back = {0};

	(void)state;
	freeze_sheet(&freeze, &sheet);
	assert_false(freeze.failed);
	freeze = freeze_from(bytes, freeze.length);
	freeze_sheet(&freeze, &back);
	assert_false(freeze.failed);
	assert_int_equal(freeze.length, freeze.room);
	assert_true(back.placed.ns == 1000 && back.number == 7);
	assert_true(back.loaded.known && back.loaded.before.ns == 900 &&
		    back.loaded.at.ns == 1000 &&
		    back.loaded.wall.ns == 1700000000000000000);
	assert_true(back.stay_count == 1 && back.stays[0].in.at.ns == 2500);
	assert_true(isnan(back.last_tool_mean_c));
}

static void
a_sheet_of_wild_times_is_refused(void **state)
{
	struct sheet sheet = usual();

	(void)state;
	assert_true(is_frozen(sheet));
	sheet.placed.ns = INT64_MIN + 5;
	assert_false(is_frozen(sheet));
	sheet = usual();
	sheet.left.ns = INT64_MAX - 5;
	assert_false(is_frozen(sheet));
	sheet = usual();
	sheet.left_wall.ns = INT64_MIN;
	assert_false(is_frozen(sheet));
	sheet = usual();
	sheet.loaded.wall.ns = INT64_MAX;
	assert_false(is_frozen(sheet));
	sheet = usual();
	sheet.stays[0].in.before.ns = INT64_MIN / 2;
	assert_false(is_frozen(sheet));
	sheet = usual();
	sheet.stays[0].in.before.ns = 2501;
	assert_false(is_frozen(sheet));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_time_within_the_bounds_comes_back),
	    cmocka_unit_test(a_time_out_of_bounds_is_refused_both_ways),
	    cmocka_unit_test(a_sheet_comes_back),
	    cmocka_unit_test(a_sheet_of_wild_times_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
