/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdio.h>
#include <string.h>

#include "cli/command/refusals.h"

static void
expect(const char *answer, bool plain, const char *wording)
{
	char got[REFUSALS_WORDS];

	refusals_wording(answer, plain, got);
	assert_string_equal(got, wording);
}

static void
a_wording_is_what_is_left_without_quoted_lines_and_numbers(void **state)
{
	(void)state;
	expect("400 dropped=17", true, "# dropped=#");
	expect("400 dropped=17", false, "400 dropped=17");
	expect(
	    "unable to parse 'shot,line=a x=1 9': no", true, "unable to parse ...: no");
	expect("bad \"a=\\\"b\\\" 1\" here", true, "bad ... here");
	/* names of fields stay: they tell causes apart */
	expect("field \"heat_s\" is float", true, "field \"heat_s\" is float");
	/* no quotation at all; and one that was cut off */
	expect("can't take a=1, don't", true, "can't take a=#, don't");
	expect("parse 'shot,line=a x=", true, "parse ...");
	expect("", true, "");
}

static void
add(struct refusals *refusals, const char *line, const char *answer, int64_t s)
{
	refusals_add(refusals, &(struct ledger_refused){.line = line,
				   .answer = answer,
				   .at = {s * CLOCK_SECOND_NS},
				   .time = {(s - 10) * CLOCK_SECOND_NS}});
}

static void
lines_of_one_wording_are_counted_with_what_they_are_of(void **state)
{
	static struct refusals refusals;

	(void)state;
	refusals = (struct refusals){.since = {150 * CLOCK_SECOND_NS}};
	add(&refusals, "shot,line=b x=1 1", "no 1", 200);
	add(&refusals, "event,line=a x=\",line=c\" 1", "no 22", 100);
	add(&refusals, "shot,line=a x=1 1", "no 3", 300);
	add(&refusals, "logger x=1 1", "never", 120);
	assert_int_equal(refusals.count, 2);
	const struct refusals_kind *kind = &refusals.list[0];
	assert_int_equal(kind->lines, 3);
	assert_int_equal(kind->lately, 2);
	assert_string_equal(kind->words, "no 1");
	assert_string_equal(kind->measurements, "shot, event");
	assert_string_equal(kind->of, "b, a");
	assert_int_equal(kind->from.ns, 90 * CLOCK_SECOND_NS);
	assert_int_equal(kind->to.ns, 290 * CLOCK_SECOND_NS);
	assert_int_equal(kind->first.ns, 100 * CLOCK_SECOND_NS);
	assert_int_equal(kind->last.ns, 300 * CLOCK_SECOND_NS);
	assert_ptr_equal(refusals_most_lately(&refusals), kind);
	assert_string_equal(refusals.list[1].of, "");
}

static void
more_wordings_than_there_is_room_for_are_one(void **state)
{
	static struct refusals refusals;
	char words[16] = "";

	(void)state;
	refusals = (struct refusals){0};
	for (int i = 0; i < 26 * 4; i++) {
		snprintf(words, sizeof words, "%c%c", 'a' + i % 26, 'a' + i / 26);
		add(&refusals, "shot x=1 1", words, 20);
	}
	assert_int_equal(refusals.count, REFUSALS_MOST);
	const struct refusals_kind *rest = &refusals.list[REFUSALS_MOST - 1];
	assert_string_equal(rest->words, "other words");
	assert_int_equal(rest->lines, 26 * 4 - (REFUSALS_MOST - 1));
}

static void
retention_and_types_have_advice_of_their_own(void **state)
{
	(void)state;
	assert_non_null(
	    strstr(refusals_advice("Points beyond Retention policy"), "retention"));
	assert_non_null(strstr(refusals_advice("outside retention policy"), "shorter"));
	assert_non_null(strstr(refusals_advice("field type conflict"), "type"));
	assert_null(refusals_advice("the tap is shut"));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		a_wording_is_what_is_left_without_quoted_lines_and_numbers),
	    cmocka_unit_test(lines_of_one_wording_are_counted_with_what_they_are_of),
	    cmocka_unit_test(more_wordings_than_there_is_room_for_are_one),
	    cmocka_unit_test(retention_and_types_have_advice_of_their_own),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
