/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <math.h>
#include <string.h>

#include "daemon/publish/shift_lines.h"

static const struct line_protocol_form influx1 = {"pond-works", true, true};
static const struct line_protocol_form victoria = {"pond-works", false, false};

/* Most of it is not known. */
static struct ledger_shift
a_shift(void)
{
	struct ledger_shift shift = {.line = "line 3",
	    .shift = "early",
	    .revision = 2,
	    .from = {INT64_C(1772427600123456789)}};

	for (int i = 0; i < LEDGER_SHIFT_SUMS; i++)
		shift.sum[i] = NAN;
	shift.sum[LEDGER_SHIFT_SHOTS] = 150;
	shift.sum[LEDGER_SHIFT_OUTCOME + SHOT_TIMER_RELEASE] = 3;
	shift.sum[LEDGER_SHIFT_OUTCOME + SHOT_COMPLETE] = 147;
	shift.sum[LEDGER_SHIFT_CYCLE_S] = 181.5;
	shift.sum[LEDGER_SHIFT_NOT_ESTABLISHED] = 0;
	return shift;
}

static struct ledger_shift_row
a_row(void)
{
	struct ledger_shift_row row = {.recipe = "12", .characteristic = "exit_top_c"};

	for (int i = 0; i < LEDGER_SHIFT_FIGURES; i++)
		row.figure[i] = NAN;
	row.figure[LEDGER_SHIFT_N] = 147;
	row.figure[LEDGER_SHIFT_MEAN] = 182.25;
	row.figure[LEDGER_SHIFT_STABLE] = 0;
	row.figure[LEDGER_SHIFT_VERDICT] = -1;
	return row;
}

static void
assert_lines(struct text *text, const char *expected)
{
	assert_false(text->failed);
	assert_string_equal(text->bytes != NULL ? text->bytes : "", expected);
	text_clear(text);
}

static void
a_shift_has_what_is_known_of_it_at_its_beginning(void **state)
{
	const struct ledger_shift shift = a_shift();
	struct text text;
	(void)state;

	text_init(&text, 1 << 16);
	shift_lines_total(&text, &influx1, &shift);
	assert_lines(&text,
	    "shift_total,site=pond-works,line=line\\ 3,shift=early,revision=2 "
	    "shots=150,"
	    "timer_release=3,complete=147,cycle_s=181.5,not_established=0,current=1 "
	    "1772427600000000000\n");
	shift_lines_total(&text, &victoria, &shift);
	assert_lines(&text,
	    "shift_total,site=pond-works,line=line\\ 3,shift=early,revision=2 "
	    "shots=150,"
	    "timer_release=3,complete=147,cycle_s=181.5,not_established=0 "
	    "1772427600000000000\n");
	text_release(&text);
}

static void
a_characteristic_has_a_point_under_its_recipe_and_tool(void **state)
{
	const struct ledger_shift shift = a_shift();
	const struct ledger_shift_row row = a_row();
	struct text text;
	(void)state;

	text_init(&text, 1 << 16);
	shift_lines_row(&text, &influx1, &shift, &row);
	assert_lines(&text,
	    "shift,site=pond-works,line=line\\ 3,shift=early,recipe=12,tool=unknown,"
	    "characteristic=exit_top_c,revision=2 "
	    "n=147,mean=182.25,stable=0,verdict=-1,"
	    "current=1 1772427600000000000\n");
	text_release(&text);
}

static void
earlier_revisions_are_marked_under_their_tags(void **state)
{
	const struct ledger_shift shift = a_shift();
	const struct ledger_shift_row row = a_row();
	struct text text;
	(void)state;

	text_init(&text, 1 << 16);
	shift_lines_total_mark(&text, &influx1, &shift);
	shift_lines_row_mark(&text, &victoria, &shift, &row);
	assert_lines(&text,
	    "shift_total,site=pond-works,line=line\\ 3,shift=early,revision=2"
	    " superseded=1,current=0 1772427600000000000\n"
	    "shift,site=pond-works,line=line\\ 3,shift=early,recipe=12,tool=unknown,"
	    "characteristic=exit_top_c,revision=2 superseded=1 1772427600000000000\n");
	text_release(&text);
}

static void
before_there_is_a_time_there_is_no_point(void **state)
{
	struct ledger_shift shift = a_shift();
	const struct ledger_shift_row row = a_row();
	struct text text;
	(void)state;

	shift.from.ns = 999999999;
	text_init(&text, 1 << 16);
	shift_lines_total(&text, &influx1, &shift);
	shift_lines_row(&text, &influx1, &shift, &row);
	shift_lines_total_mark(&text, &influx1, &shift);
	shift_lines_row_mark(&text, &influx1, &shift, &row);
	assert_lines(&text, "");
	text_release(&text);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_shift_has_what_is_known_of_it_at_its_beginning),
	    cmocka_unit_test(a_characteristic_has_a_point_under_its_recipe_and_tool),
	    cmocka_unit_test(earlier_revisions_are_marked_under_their_tags),
	    cmocka_unit_test(before_there_is_a_time_there_is_no_point),
	};
	return cmocka_run_group_tests_name("shift lines", tests, NULL, NULL);
}
