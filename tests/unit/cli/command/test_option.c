/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "cli/command/option.h"
#include "daemon/base/error.h"

static const option_set both = OPTION_BIT(OPTION_FROM) | OPTION_BIT(OPTION_STORE);

/* Reads `first` and, unless it is NULL, `second` behind it; what it is. */
static int
read(const char *first, const char *second, option_set allowed,
    struct option_value *value, struct error *error)
{
	char *argv[] = {(char *)(uintptr_t)first, (char *)(uintptr_t)second, NULL};
	int at = 0;

	return option_read(second ? 2 : 1, argv, &at, allowed, value, error);
}

static void
every_option_has_a_bit_of_its_own_and_a_name(void **state)
{
	option_set all = 0;

	(void)state;
	for (int id = 0; id < OPTION_COUNT; id++) {
		assert_true((all & OPTION_BIT(id)) == 0);
		all |= OPTION_BIT(id);
		assert_non_null(option_table[id].name);
		assert_non_null(option_table[id].help);
	}
	assert_true(OPTION_BIT(OPTION_FORCE) != 0);
	assert_true((OPTION_ALL & OPTION_BIT(OPTION_COUNT - 1)) != 0);
}

static void
an_option_beyond_the_sixty_fourth_is_found_and_allowed_by_its_own_bit(void **state)
{
	option_set low = (option_set)1 << (OPTION_VERIFY % 64);
	struct option_value value;
	struct error error;

	(void)state;
	assert_true(OPTION_VERIFY >= 64);
	assert_int_equal(
	    read("--verify", NULL, OPTION_ALL, &value, &error), OPTION_VERIFY);
	assert_int_equal(
	    read("--verify", NULL, OPTION_BIT(OPTION_VERIFY), &value, &error),
	    OPTION_VERIFY);
	assert_int_equal(read("--verify", NULL, low, &value, &error), ERROR_INVALID);
	assert_string_equal(error.text, "unknown option '--verify'");
}

static void
from_a_name_is_a_store_and_from_a_digit_is_a_time(void **state)
{
	struct option_value value;
	struct error error;

	(void)state;
	assert_int_equal(read("--from", "plant", both, &value, &error), OPTION_STORE);
	assert_string_equal(value.text, "plant");
	assert_int_equal(
	    read("--from=plant", NULL, both, &value, &error), OPTION_STORE);
	assert_string_equal(value.text, "plant");
	assert_int_equal(read("--store", "2nd", both, &value, &error), OPTION_STORE);
	assert_int_equal(
	    read("--from", "2026-03-02T06:00", both, &value, &error), OPTION_FROM);
	assert_int_equal(read("--from=", NULL, both, &value, &error), OPTION_FROM);
}

static void
from_a_name_stays_a_wrong_time_where_no_store_is_read(void **state)
{
	struct option_value value;
	struct error error;

	(void)state;
	assert_int_equal(
	    read("--from", "plant", OPTION_BIT(OPTION_FROM), &value, &error),
	    OPTION_FROM);
	assert_string_equal(value.text, "plant");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_option_has_a_bit_of_its_own_and_a_name),
	    cmocka_unit_test(
		an_option_beyond_the_sixty_fourth_is_found_and_allowed_by_its_own_bit),
	    cmocka_unit_test(from_a_name_is_a_store_and_from_a_digit_is_a_time),
	    cmocka_unit_test(from_a_name_stays_a_wrong_time_where_no_store_is_read),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
