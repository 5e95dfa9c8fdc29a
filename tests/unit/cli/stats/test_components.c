/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>

#include "cli/stats/components.h"
#include "tests/reference/variance_components.h"
#include "tests/unit/cli/stats/numerics_started.h"
#include "tests/unit/near.h"
#include "tests/unit/published.h"

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))

enum { MOST = 100 };

static size_t
number_groups(const size_t *sizes, size_t groups, size_t group[static MOST])
{
	size_t n = 0;

	for (size_t i = 0; i < groups; i++)
		for (size_t j = 0; j < sizes[i]; j++)
			group[n++] = i;
	return n;
}

static void
the_certified_f_of_equal_groups_is_met(void **state)
{
	static const size_t sizes[] = {5, 5, 5, 5, 5};
	size_t group[MOST];

	(void)state;
	size_t n = number_groups(sizes, 5, group);
	struct components got = components_of(nist_silicon, group, n, 5);
	assert_int_equal(got.groups, 5);
	assert_int_equal(got.n, 25);
	published(SOURCE_STRD_VARIANCE, "F of five instruments", got.f,
	    1.18046237440255, 1e-11);
	published(SOURCE_R, "p of that F of SiRstv", got.p, 0.34944749340217, 1e-10);
	published(SOURCE_STRD_VARIANCE, "variance within an instrument", got.within,
	    0.0108318280000014, 1e-13);
	published(SOURCE_STRD_VARIANCE, "variance between instruments", got.between,
	    0.00039094748000018, 1e-13);
}

static void
unequal_groups_share_by_their_sizes(void **state)
{
	size_t group[MOST];

	(void)state;
	size_t n = number_groups(chick_sizes, LENGTH(chick_sizes), group);
	assert_int_equal(n, LENGTH(chick_weights));
	struct components got =
	    components_of(chick_weights, group, n, LENGTH(chick_sizes));
	published(SOURCE_R, "variance of chickwts within a feed", got.within,
	    3008.5541691641679, 1e-9);
	published(SOURCE_R, "variance of chickwts between feeds", got.between,
	    3659.8601572648058, 1e-9);
	published(SOURCE_R, "F of chickwts", got.f, 15.364799774712539, 1e-11);
	published(SOURCE_R, "p of chickwts", got.p, 5.9364198534713305e-10, 1e-19);
}

static void
order_offset_gaps_and_empty_groups_change_nothing(void **state)
{
	double values[MOST];
	size_t group[MOST], moved[MOST];

	(void)state;
	size_t n = number_groups(chick_sizes, LENGTH(chick_sizes), group);
	for (size_t i = 0; i < n; i++) {
		size_t from = i * 30 % n; /* 71 values: every one once */
		values[i] = 1e9 + chick_weights[from];
		moved[i] = 2 * group[from] + 1;
	}
	values[n] = NAN;
	moved[n] = 0;
	struct components got = components_of(values, moved, n + 1, 13);
	assert_int_equal(got.groups, 6);
	assert_int_equal(got.n, n);
	assert_near(got.within, 3008.5541691641679, 1e-9);
	assert_near(got.between, 3659.8601572648058, 1e-9);
}

static void
groups_nearer_than_chance_have_nothing_between_them(void **state)
{
	static const double values[] = {1, 3, 1, 3, 1, 3};
	static const size_t group[] = {0, 0, 1, 1, 2, 2};

	(void)state;
	struct components got = components_of(values, group, 6, 3);
	assert_near(got.within, 2, 1e-15);
	assert_near(got.between, 0, 0);
	assert_near(got.f, 0, 0);
	assert_near(got.p, 1, 1e-15);
}

static void
what_cannot_be_told_is_not_told(void **state)
{
	static const double values[] = {1, 3, 5, NAN};
	static const size_t one[] = {0, 0, 0, 0}, each[] = {0, 1, 2, 3};

	(void)state;
	struct components none = components_of(values, one, 0, 0);
	assert_int_equal(none.n + none.groups, 0);
	assert_true(isnan(none.within) && isnan(none.between));
	struct components single = components_of(values, one, 4, 1);
	assert_int_equal(single.n, 3);
	assert_near(single.within, 4, 1e-15);
	assert_true(isnan(single.between) && isnan(single.f) && isnan(single.p));
	struct components alone = components_of(values, each, 4, 4);
	assert_int_equal(alone.groups, 3);
	assert_true(isnan(alone.within) && isnan(alone.between) && isnan(alone.f));
}

static void
lots_without_scatter_within_have_no_test(void **state)
{
	static const double values[] = {1, 1, 4, 4};
	static const size_t group[] = {0, 0, 1, 1};

	(void)state;
	struct components got = components_of(values, group, 4, 2);
	assert_near(got.within, 0, 0);
	assert_near(got.between, 4.5, 1e-15);
	assert_true(isnan(got.f) && isnan(got.p));
}

static void
values_at_the_end_of_the_doubles_are_not_told_wrong(void **state)
{
	static const double wide[] = {1e200, -1e200, 1e200, -1e200, 1, 2};
	static const size_t group[] = {0, 0, 1, 1, 2, 2};

	(void)state;
	struct components got = components_of(wide, group, 6, 3);
	assert_true(isnan(got.within) && isnan(got.between) && isnan(got.p));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_certified_f_of_equal_groups_is_met),
	    cmocka_unit_test(unequal_groups_share_by_their_sizes),
	    cmocka_unit_test(order_offset_gaps_and_empty_groups_change_nothing),
	    cmocka_unit_test(groups_nearer_than_chance_have_nothing_between_them),
	    cmocka_unit_test(what_cannot_be_told_is_not_told),
	    cmocka_unit_test(lots_without_scatter_within_have_no_test),
	    cmocka_unit_test(values_at_the_end_of_the_doubles_are_not_told_wrong),
	};

	return cmocka_run_group_tests(tests, numerics_started, NULL);
}
