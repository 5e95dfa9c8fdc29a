/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/doubt.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/fieldbus/plan.h"

static struct read_block
block(enum register_table table, uint16_t count)
{
	return (struct read_block){.table = table, .first = 100, .count = count};
}

static void
without_doubt_everything_is_asked_for(void **state)
{
	struct read_block asked = block(TABLE_HOLDING, 10), probe;
	struct doubt doubt = {0};

	(void)state;
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_ASK);
	doubt_add(&doubt, &asked, 1);
	doubt_clear(&doubt);
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_ASK);
}

static void
a_block_of_the_length_given_up_is_probed_by_its_beginning(void **state)
{
	struct read_block asked = block(TABLE_HOLDING, 10), probe;
	struct read_block other = block(TABLE_INPUT, 10); /* as long */
	struct doubt doubt = {0};

	(void)state;
	doubt_add(&doubt, &asked, 1);
	assert_int_equal(doubt_look(&doubt, &other, &probe), DOUBT_PROBE);
	assert_int_equal(probe.table, TABLE_INPUT);
	assert_int_equal(probe.first, 100);
	assert_int_equal(probe.count, 9);
	doubt_add(&doubt, &probe, 1); /* in vain too */
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_PROBE);
	assert_int_equal(probe.count, 8);
}

static void
a_block_of_another_length_needs_no_probe(void **state)
{
	struct read_block asked = block(TABLE_HOLDING, 10), probe;
	struct read_block other = block(TABLE_HOLDING, 11);
	struct doubt doubt = {0};

	(void)state;
	doubt_add(&doubt, &asked, 1);
	assert_int_equal(doubt_look(&doubt, &other, &probe), DOUBT_ASK);
	doubt_add(&doubt, &other, 1);
	assert_int_equal(doubt_look(&doubt, &other, &probe), DOUBT_PROBE);
	assert_int_equal(probe.count, 9);
}

/* Bits come in bytes: one bit less is no other length. */
static void
bits_are_probed_by_a_byte_less(void **state)
{
	struct read_block asked = block(TABLE_COIL, 19), probe;
	struct read_block byte = block(TABLE_DISCRETE, 8);
	struct doubt doubt = {0};

	(void)state;
	doubt_add(&doubt, &asked, 1);
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_PROBE);
	assert_int_equal(probe.count, 11);
	assert_int_equal(doubt_look(&doubt, &byte, &probe), DOUBT_ASK);
	doubt_add(&doubt, &byte, 1);
	assert_int_equal(doubt_look(&doubt, &byte, &probe), DOUBT_WAIT);
}

static void
where_no_length_is_left_it_waits_till_nothing_can_come(void **state)
{
	struct read_block one = block(TABLE_HOLDING, 1), probe;
	struct read_block two = block(TABLE_HOLDING, 2);
	struct doubt doubt = {0};

	(void)state;
	doubt_add(&doubt, &one, 0.02);
	assert_int_equal(doubt_look(&doubt, &one, &probe), DOUBT_WAIT);
	assert_int_equal(doubt_look(&doubt, &two, &probe), DOUBT_ASK);
	doubt_add(&doubt, &two, 0.02);
	assert_int_equal(doubt_look(&doubt, &two, &probe), DOUBT_WAIT);
	assert_in_range(limit_left_ms(&doubt.until), 61, 80);
	limit_wait(&doubt.until);
	assert_int_equal(doubt_look(&doubt, &two, &probe), DOUBT_ASK);
	assert_false(doubt.on);
}

/* Which answers on a serial line come late enough to be missed is relied on. */
static void
an_answer_is_expected_for_four_time_outs(void **state)
{
	(void)state;
	assert_in_range(doubt_after_s(0.5) * 1000 + 0.5, 2000, 2000);
}

/* --- strangers --------------------------------------------------------------------- */

static void
what_strangers_asked_for_is_told_by_any_probe(void **state)
{
	struct read_block asked = block(TABLE_HOLDING, 10), probe;
	struct doubt doubt = {0};

	(void)state;
	doubt_strangers(&doubt, 1);
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_PROBE);
	assert_int_equal(probe.count, 9);
	doubt_add(&doubt, &probe, 1);
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_PROBE);
	assert_int_equal(probe.count, 8);
	doubt_clear(&doubt);
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_ASK);
}

static void
strangers_keep_nobody_waiting(void **state)
{
	struct read_block one = block(TABLE_HOLDING, 1), probe;
	struct doubt doubt = {0};

	(void)state;
	doubt_strangers(&doubt, 1);
	assert_int_equal(doubt_look(&doubt, &one, &probe), DOUBT_ASK);
	doubt_add(&doubt, &one, 1); /* our own does */
	assert_int_equal(doubt_look(&doubt, &one, &probe), DOUBT_WAIT);
}

static void
strangers_are_forgotten_after_four_time_outs(void **state)
{
	struct read_block asked = block(TABLE_HOLDING, 10), probe;
	struct doubt doubt = {0};
	struct limit most;

	(void)state;
	doubt_strangers(&doubt, 0.02);
	most = limit_from_now(0.07);
	limit_wait(&most);
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_PROBE);
	limit_wait(&doubt.strange_until);
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_ASK);
	doubt_strangers(&doubt, 0); /* what we asked for ourselves stays */
	doubt_add(&doubt, &asked, 1);
	assert_int_equal(doubt_look(&doubt, &asked, &probe), DOUBT_PROBE);
	assert_false(doubt.strange);
}

/* The longest replies that there are. */
static void
every_length_has_its_place(void **state)
{
	struct read_block bits = block(TABLE_COIL, PLAN_BITS_MAX), probe;
	struct read_block registers = block(TABLE_HOLDING, 125);
	struct doubt doubt = {0};

	(void)state;
	doubt_add(&doubt, &bits, 1); /* 250 bytes, as many as 125 registers */
	assert_int_equal(doubt_look(&doubt, &registers, &probe), DOUBT_PROBE);
	for (uint16_t count = 125; count > 1; count--) {
		doubt_add(&doubt, &registers, 1);
		assert_int_equal(doubt_look(&doubt, &registers, &probe), DOUBT_PROBE);
		assert_int_equal(probe.count, count - 1);
		doubt_add(&doubt, &probe, 1);
	}
	assert_int_equal(doubt_look(&doubt, &registers, &probe), DOUBT_WAIT);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(without_doubt_everything_is_asked_for),
	    cmocka_unit_test(a_block_of_the_length_given_up_is_probed_by_its_beginning),
	    cmocka_unit_test(a_block_of_another_length_needs_no_probe),
	    cmocka_unit_test(bits_are_probed_by_a_byte_less),
	    cmocka_unit_test(where_no_length_is_left_it_waits_till_nothing_can_come),
	    cmocka_unit_test(an_answer_is_expected_for_four_time_outs),
	    cmocka_unit_test(what_strangers_asked_for_is_told_by_any_probe),
	    cmocka_unit_test(strangers_keep_nobody_waiting),
	    cmocka_unit_test(strangers_are_forgotten_after_four_time_outs),
	    cmocka_unit_test(every_length_has_its_place),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
