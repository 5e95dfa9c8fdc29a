/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/recent.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

enum { HOUR_S = 3600 };

/* `bad` requests timed out until `s` after the start. */
static struct ledger_device
tell(struct recent *recent, int64_t start_s, int64_t s, int64_t bad)
{
	struct ledger_device device = {.since.ns = start_s * CLOCK_SECOND_NS,
	    .at.ns = (start_s + s) * CLOCK_SECOND_NS,
	    .counts = {[LEDGER_COUNT_NONE] = bad, [LEDGER_COUNT_GOOD] = 10 * s}};

	recent_tell(recent, &device, (struct mono){(start_s + s) * CLOCK_SECOND_NS});
	return device;
}

static void
until_two_hours_all_is_recent(void **state)
{
	struct recent recent = {0};
	(void)state;

	for (int64_t s = 0; s < 2 * HOUR_S; s += 15) {
		struct ledger_device device = tell(&recent, 1000, s, s / 60);
		assert_int_equal(device.recent_since.ns, device.since.ns);
		assert_int_equal(device.recent[LEDGER_COUNT_NONE], s / 60);
		assert_int_equal(device.recent[LEDGER_COUNT_GOOD], 10 * s);
	}
}

static void
a_failure_is_forgotten_after_one_to_two_hours(void **state)
{
	enum { FAILED_S = 10000 };
	struct recent recent = {0};
	bool forgotten = false;
	(void)state;

	for (int64_t s = 0; s < 10 * HOUR_S; s += 15) {
		struct ledger_device device =
		    tell(&recent, 1000, s, s >= FAILED_S ? 5 : 0);
		int64_t from_s = device.recent_since.ns / CLOCK_SECOND_NS - 1000;

		if (s >= 2 * HOUR_S)
			assert_in_range(s - from_s, HOUR_S, 2 * HOUR_S + 15);
		assert_int_equal(device.recent[LEDGER_COUNT_GOOD], 10 * (s - from_s));
		if (s >= FAILED_S && s < FAILED_S + HOUR_S)
			assert_int_equal(device.recent[LEDGER_COUNT_NONE], 5);
		if (s > FAILED_S + 2 * HOUR_S + 15) {
			assert_int_equal(device.recent[LEDGER_COUNT_NONE], 0);
			forgotten = true;
		}
	}
	assert_true(forgotten);
}

/* Another start: the counts begin at 0. */
static void
a_start_begins_anew(void **state)
{
	struct recent recent = {0};
	(void)state;

	for (int64_t s = 0; s < 5 * HOUR_S; s += 60)
		tell(&recent, 1000, s, s);
	struct ledger_device device = tell(&recent, 90000, 5, 1);
	assert_int_equal(device.recent_since.ns, device.since.ns);
	assert_int_equal(device.recent[LEDGER_COUNT_NONE], 1);
	assert_int_equal(device.recent[LEDGER_COUNT_GOOD], 50);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(until_two_hours_all_is_recent),
	    cmocka_unit_test(a_failure_is_forgotten_after_one_to_two_hours),
	    cmocka_unit_test(a_start_begins_anew),
	};
	return cmocka_run_group_tests_name("recent", tests, NULL, NULL);
}
