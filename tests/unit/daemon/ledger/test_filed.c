/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much of a number and of a time goes on file. */
#include "daemon/ledger/filed.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/unit/seed.h"

static uint64_t state_of_random;

/* xorshift64* (S. Vigna, ACM Trans. Math. Softw. 42:30, 2016). */
static uint64_t
bits(void)
{
	uint64_t x = state_of_random;

	x ^= x >> 12;
	x ^= x << 25;
	x ^= x >> 27;
	state_of_random = x;
	return x * UINT64_C(2685821657736338717);
}

static double
uniform(void)
{
	return (double)(bits() >> 11) * 0x1p-53;
}

static bool
same(double a, double b)
{
	uint64_t a_bits, b_bits;

	memcpy(&a_bits, &a, sizeof a);
	memcpy(&b_bits, &b, sizeof b);
	return a_bits == b_bits;
}

/* What the C library makes of it, which rounds exactly: with as many decimals as leave ten
 * digits, `most` at most. */
static double
by_printf(double value, int most)
{
	double size = fabs(value);
	int decimals = most;
	char text[400];

	while (decimals > 0 && size >= pow(10, 10 - decimals))
		decimals--;
	if (size >= 1e10)
		snprintf(text, sizeof text, "%.9e", value);
	else
		snprintf(text, sizeof text, "%.*f", decimals, value);
	double rounded = strtod(text, NULL);
	return rounded == 0 ? 0 : rounded;
}

static void
assert_rounded_to(double (*filed)(double), int most, double value)
{
	double rounded = filed(value);

	if (!same(rounded, by_printf(value, most)))
		fail_msg("%.17g became %.17g, not %.17g", value, rounded,
		    by_printf(value, most));
	if (!same(filed(rounded), rounded))
		fail_msg(
		    "%.17g became %.17g, then %.17g", value, rounded, filed(rounded));
}

static void
assert_rounded(double value)
{
	assert_rounded_to(filed_number, 9, value);
}

static void
numbers_of_every_size_are_rounded_as_the_c_library_rounds_them(void **state)
{
	(void)state;

	state_of_random = seed_take(20260302);
	for (int i = 0; i < 1000000; i++) {
		double size = pow(10, -12 + 30 * uniform());
		assert_rounded((bits() & 1) != 0 ? size : -size);
		assert_rounded_to(filed_flow, 15, (bits() & 1) != 0 ? size : -size);
	}
}

static void
a_flow_in_cubic_metres_a_second_keeps_ten_digits(void **state)
{
	(void)state;

	/* 8 litres a minute, and half of one: by hand. */
	assert_true(same(filed_flow(0.000133319123456), 0.0001333191235));
	assert_true(same(filed_flow(0.5 / 60000), 0.000008333333333));
	assert_true(same(filed_flow(12345.678901234), 12345.67890));
	assert_true(filed_same_flow(0.000133319123441, 0.000133319123442));
	assert_false(filed_same_flow(0.0001333191234, 0.0001333191235));
	assert_true(filed_same_flow(NAN, NAN));
	assert_false(filed_same_flow(NAN, 0));
}

/* Half a unit of the last digit, and the doubles beside it. */
static void
numbers_next_to_a_tie_go_the_right_way(void **state)
{
	(void)state;

	state_of_random = seed_take(20260302);
	for (int i = 0; i < 300000; i++) {
		int decimals = (int)(bits() % 10);
		double digits = floor(1e10 * uniform());
		double tie = (digits + 0.5) / pow(10, decimals);
		assert_rounded(tie);
		assert_rounded(nextafter(tie, HUGE_VAL));
		assert_rounded(nextafter(tie, -HUGE_VAL));
		assert_rounded(-tie);
		tie /= 1e6;
		assert_rounded_to(filed_flow, 15, tie);
		assert_rounded_to(filed_flow, 15, nextafter(tie, HUGE_VAL));
		assert_rounded_to(filed_flow, 15, nextafter(tie, -HUGE_VAL));
	}
	/* Exact ties, to even. */
	assert_true(same(filed_number(1234567890.5), 1234567890.0));
	assert_true(same(filed_number(1234567891.5), 1234567892.0));
}

static void
what_has_ten_digits_already_stays(void **state)
{
	static const double numbers[] = {0, 1, -1, 143.5, 0.25, 199.9999999, 1e-9,
	    0.000000001, 9.999999999, 99.99999999, 1234567890, 9999999999, 3.6e12,
	    1e300};
	(void)state;

	for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
		assert_true(same(filed_number(numbers[i]), numbers[i]));
}

static void
what_is_beyond_is_cut_to_a_power_of_ten_or_to_nothing(void **state)
{
	(void)state;

	assert_true(same(filed_number(9.9999999996), 10));
	assert_true(same(filed_number(9999999999.6), 1e10));
	assert_true(same(filed_number(4e-10), 0));
	assert_true(same(filed_number(-4e-10), 0)); /* and no -0 */
	assert_true(same(filed_number(-0.0), 0));
	assert_true(same(filed_number(6e-10), 1e-9));
	assert_true(isnan(filed_number(NAN)));
	assert_true(isinf(filed_number(HUGE_VAL)));
}

static void
numbers_are_the_same_when_they_are_filed_alike(void **state)
{
	(void)state;

	assert_true(filed_same(0.1 + 0.2, 0.3));
	assert_true(filed_same(123.45678901234, 123.45678902));
	assert_false(filed_same(123.4567891, 123.4567893));
	assert_true(filed_same(NAN, NAN));
	assert_false(filed_same(NAN, 0));
	assert_true(filed_same(-0.0, 0));
}

static void
a_time_is_cut_to_its_microsecond_and_never_passes_a_whole_one(void **state)
{
	(void)state;

	assert_int_equal(filed_time((struct wall){1234999}).ns, 1234000);
	assert_int_equal(filed_time((struct wall){1234000}).ns, 1234000);
	assert_int_equal(filed_time((struct wall){0}).ns, 0);
	assert_int_equal(filed_time((struct wall){-1}).ns, -1000);
	assert_int_equal(filed_time((struct wall){-1000}).ns, -1000);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		numbers_of_every_size_are_rounded_as_the_c_library_rounds_them),
	    cmocka_unit_test(numbers_next_to_a_tie_go_the_right_way),
	    cmocka_unit_test(what_has_ten_digits_already_stays),
	    cmocka_unit_test(what_is_beyond_is_cut_to_a_power_of_ten_or_to_nothing),
	    cmocka_unit_test(a_flow_in_cubic_metres_a_second_keeps_ten_digits),
	    cmocka_unit_test(numbers_are_the_same_when_they_are_filed_alike),
	    cmocka_unit_test(
		a_time_is_cut_to_its_microsecond_and_never_passes_a_whole_one),
	};
	return cmocka_run_group_tests_name("ledger, filed", tests, NULL, NULL);
}
