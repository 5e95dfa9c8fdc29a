/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/text.h"

#include <ctype.h>
#include <locale.h>
#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "tests/unit/seed.h"
#include "tests/unit/published.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

static void
a_buffer_grows_to_its_maximum_and_no_further(void **state)
{
	struct text text;

	(void)state;
	text_init(&text, 100);
	for (int i = 0; i < 99; i++)
		text_puts(&text, "x");
	assert_false(text.failed);
	assert_int_equal(strlen(text.bytes), 99);
	text_puts(&text, "y");
	assert_true(text.failed);
	assert_int_equal(text.length, 99);
	assert_null(strchr(text.bytes, 'y'));
	text_release(&text);
}

static void
what_follows_a_failure_is_lost_until_cleared(void **state)
{
	struct text text;

	(void)state;
	text_init(&text, 8);
	text_puts(&text, "abc");
	text_printf(&text, "%s", "too long by far");
	text_puts(&text, "d");
	assert_true(text.failed);
	assert_string_equal(text.bytes, "abc");
	text_clear(&text);
	assert_false(text.failed);
	text_printf(&text, "%d", 7);
	assert_string_equal(text.bytes, "7");
	text_release(&text);
	assert_null(text.bytes);
}

static void
a_copy_is_cut_to_fit_and_says_so(void **state)
{
	char to[4];

	(void)state;
	assert_true(text_copy(to, sizeof(to), "abc"));
	assert_string_equal(to, "abc");
	assert_false(text_copy(to, sizeof(to), "abcd"));
	assert_string_equal(to, "abc");
}

static void
a_number_is_the_whole_string(void **state)
{
	static const char *const wrong[] = {"", " ", "x", "1x", "1 2", "1,5", "0x10",
	    "nan", "inf", "1e400", "-", ".", "1e", "--1", "1\n"};
	double value = 42;

	(void)state;
	for (size_t i = 0; i < COUNT(wrong); i++)
		if (text_number(wrong[i], &value))
			fail_msg("'%s' was read as %g", wrong[i], value);
	assert_true(value >= 42 && value <= 42);
	assert_true(text_number(" -1.5e3\t", &value));
	assert_true(value >= -1500 && value <= -1500);
	assert_true(text_number(".5", &value));
	assert_true(value >= 0.5 && value <= 0.5);
}

static void
an_integer_is_the_whole_string(void **state)
{
	static const char *const wrong[] = {
	    "", "1.0", "1e3", "9223372036854775808", "0x1", "1-", "- 1"};
	int64_t value = 42;

	(void)state;
	for (size_t i = 0; i < COUNT(wrong); i++)
		assert_false(text_integer(wrong[i], &value));
	assert_int_equal(value, 42);
	assert_true(text_integer(" -9223372036854775808 ", &value));
	assert_true(value == INT64_MIN);
	assert_true(text_integer("+007", &value));
	assert_int_equal(value, 7);
}

/* Makes a locale with a decimal comma and nothing else, below `folder`. */
static bool
make_comma_locale(const char *folder)
{
	char command[512];

	/* localedef complains about the rest, but makes it. */
	snprintf(command, sizeof(command),
	    "cd %s && printf '%%s\\n' LC_NUMERIC 'decimal_point \",\"' "
	    "'thousands_sep \".\"' 'grouping 3;3' 'END LC_NUMERIC' >source && "
	    "{ localedef -c -i source ./comma >/dev/null 2>&1; test -d comma; }",
	    folder);
	return system(command) == 0;
}

static void
remove_folder(const char *folder)
{
	char command[512];

	snprintf(command, sizeof(command), "rm -r %s", folder);
	assert_int_equal(system(command), 0);
}

static void
a_decimal_comma_elsewhere_changes_nothing(void **state)
{
	char folder[] = "/tmp/evensoak-text-XXXXXX", written[32];
	bool is_set = false;
	double value;
	struct text text;

	(void)state;
	assert_non_null(mkdtemp(folder));
	if (make_comma_locale(folder)) {
		setenv("LOCPATH", folder, 1);
		is_set = setlocale(LC_NUMERIC, "comma") != NULL;
	}
	remove_folder(folder);
	if (!is_set)
		skip(); /* no localedef here */
	snprintf(written, sizeof(written), "%.1f", 1.5);
	assert_string_equal(written, "1,5"); /* the trap is set */
	text_init(&text, 100);
	text_printf(&text, "%.1f", 1.5);
	assert_string_equal(text.bytes, "1.5");
	text_release(&text);
	assert_true(text_number("1.5", &value));
	text_from_number(1.5, written, sizeof(written));
	assert_string_equal(written, "1.5");
	snprintf(written, sizeof(written), "%.1f", 1.5);
	assert_string_equal(written, "1,5"); /* and was left as it was */
	setlocale(LC_NUMERIC, "C");
}

static void
a_number_is_written_with_the_fewest_digits(void **state)
{
	static const struct {
		double value;
		const char *text;
	} rows[] = {{0.1, "0.1"}, {1e-5, "1e-05"}, {-2.5, "-2.5"}, {0, "0"},
	    {1e22, "1e+22"}, {0.1 + 0.2, "0.30000000000000004"}, {100, "100"},
	    {12345678901.25, "12345678901.25"}, {0.00012, "0.00012"},
	    {999999999999999, "999999999999999"}, {-0.5, "-0.5"}};
	char written[32];

	(void)state;
	for (size_t i = 0; i < COUNT(rows); i++) {
		text_from_number(rows[i].value, written, sizeof(written));
		assert_string_equal(written, rows[i].text);
	}
}

/* Writes and reads it, and looks at how it is written. */
static void
assert_reads_back(double value)
{
	char written[32];
	const char *point;
	double back;

	text_from_number(value, written, sizeof(written));
	assert_true(strlen(written) < sizeof(written) - 1);
	assert_true(text_number(written, &back));
	if (memcmp(&value, &back, sizeof(value)) != 0)
		fail_msg("%a was written as '%s'", value, written);
	assert_true(isdigit((unsigned char)written[written[0] == '-']));
	point = strchr(written, '.');
	if (point && !isdigit((unsigned char)point[1]))
		fail_msg("%a was written as '%s'", value, written);
}

static void
every_number_reads_back_as_itself(void **state)
{
	unsigned random = seed_take(20260302);

	(void)state;
	for (int i = 0; i < 20000; i++) {
		uint64_t bits = (uint64_t)rand_r(&random) << 40 ^
		                (uint64_t)rand_r(&random) << 20 ^
		                (uint64_t)rand_r(&random);
		double value;

		memcpy(&value, &bits, sizeof(value));
		if (isfinite(value))
			assert_reads_back(value);
	}
}

/* As measured values are: of a few digits, and their sums, of all sizes. */
static void
numbers_of_every_size_read_back(void **state)
{
	unsigned random = seed_take(20260302);

	(void)state;
	for (int i = 0; i < 200000; i++) {
		double whole = rand_r(&random) - RAND_MAX / 2;
		double size = pow(10, rand_r(&random) % 40 - 20);

		assert_reads_back(whole * size);
		assert_reads_back(whole / size);
		assert_reads_back((whole + (double)rand_r(&random) / RAND_MAX) * size);
	}
}

static void
numbers_beside_powers_of_ten_read_back(void **state)
{
	(void)state;
	assert_reads_back(0);
	assert_reads_back(-0.0);
	for (int exponent = -320; exponent <= 308; exponent++) {
		double value = pow(10, exponent);

		for (int i = 0; i < 20; i++) {
			assert_reads_back(value);
			assert_reads_back(-value);
			value = nextafter(value, i < 7 ? 0 : INFINITY);
		}
	}
}

static void
a_duration_is_told_in_two_units_at_most(void **state)
{
	static const struct {
		int64_t ns;
		const char *text;
	} rows[] = {
	    {1500000000, "1.5 s"},
	    {59900000000, "59.9 s"},
	    {200000000000, "3 min 20 s"},
	    {7860000000000, "2 h 11 min"},
	    {90000000000000, "25 h 0 min"},
	};
	char text[TEXT_DURATION];

	(void)state;
	for (size_t i = 0; i < sizeof(rows) / sizeof(rows[0]); i++) {
		text_from_duration(rows[i].ns, text);
		assert_string_equal(text, rows[i].text);
	}
}

static void
a_near_name_is_found(void **state)
{
	static const char *const names[] = {
	    "period_ms", "timeout_ms", "address", "unit"};

	(void)state;
	assert_string_equal(text_nearest("perod_ms", names, COUNT(names)), "period_ms");
	assert_string_equal(
	    text_nearest("perido_ms", names, COUNT(names)), "period_ms");
	assert_string_equal(
	    text_nearest("PERIOD_MS", names, COUNT(names)), "period_ms");
	assert_string_equal(text_nearest("Unit", names, COUNT(names)), "unit");
	assert_string_equal(text_nearest("add", names, COUNT(names)), "address");
	assert_string_equal(text_nearest("untis", names, COUNT(names)), "unit");
}

static void
a_far_name_is_not(void **state)
{
	static const char *const names[] = {"period_ms", "C", "address", "unit"};
	char long_name[300];

	(void)state;
	assert_null(text_nearest("prd", names, COUNT(names)));
	assert_null(text_nearest("ad", names, COUNT(names)));
	assert_null(text_nearest("F", names, COUNT(names)));
	assert_null(text_nearest("", names, COUNT(names)));
	memset(long_name, 'u', sizeof(long_name));
	long_name[sizeof(long_name) - 1] = '\0';
	assert_null(text_nearest(long_name, names, COUNT(names)));
}

static void
the_nearer_of_two_names_wins(void **state)
{
	static const char *const names[] = {"heat_b", "heater", "heaters_a"};

	(void)state;
	assert_string_equal(text_nearest("heatex", names, COUNT(names)), "heater");
}

static void
hashes_are_the_published_ones(void **state)
{
	/* fnv_test_str of test_fnv.c */
	const uint64_t hashes[] = {
	    text_hash("", 0), text_hash("a", 1), text_hash("foobar", 6)};
	static const uint64_t wanted[] = {UINT64_C(0xcbf29ce484222325),
	    UINT64_C(0xaf63dc4c8601ec8c), UINT64_C(0x85944171f73967e8)};

	(void)state;
	published_same(SOURCE_FNV, "hashes of '', 'a' and 'foobar', bytes alike",
	    hashes, wanted, sizeof wanted);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_buffer_grows_to_its_maximum_and_no_further),
	    cmocka_unit_test(what_follows_a_failure_is_lost_until_cleared),
	    cmocka_unit_test(a_copy_is_cut_to_fit_and_says_so),
	    cmocka_unit_test(a_number_is_the_whole_string),
	    cmocka_unit_test(an_integer_is_the_whole_string),
	    cmocka_unit_test(a_decimal_comma_elsewhere_changes_nothing),
	    cmocka_unit_test(a_number_is_written_with_the_fewest_digits),
	    cmocka_unit_test(every_number_reads_back_as_itself),
	    cmocka_unit_test(numbers_of_every_size_read_back),
	    cmocka_unit_test(numbers_beside_powers_of_ten_read_back),
	    cmocka_unit_test(a_duration_is_told_in_two_units_at_most),
	    cmocka_unit_test(a_near_name_is_found),
	    cmocka_unit_test(a_far_name_is_not),
	    cmocka_unit_test(the_nearer_of_two_names_wins),
	    cmocka_unit_test(hashes_are_the_published_ones),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
