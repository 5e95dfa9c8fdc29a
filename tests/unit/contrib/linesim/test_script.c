/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <stdio.h>
#include <string.h>

#include "contrib/linesim/registers.h"
#include "contrib/linesim/script.h"
#include "daemon/base/text.h"
#include "tests/unit/near.h"

static struct script script;

static bool
read_text(const char *content, struct text *mistakes)
{
	char copy[2000];
	FILE *file;

	assert_true(text_copy(copy, sizeof copy, content));
	file = fmemopen(copy, strlen(copy), "r");
	assert_non_null(file);
	text_init(mistakes, 10000);
	bool good = script_read(&script, "day.events", file, mistakes);
	fclose(file);
	return good;
}

static void
assert_refused(const char *content, const char *sentence)
{
	struct text mistakes;

	assert_false(read_text(content, &mistakes));
	assert_string_equal(mistakes.bytes, sentence);
	text_release(&mistakes);
}

static void
a_good_script_is_read_whole(void **state)
{
	(void)state;
	struct text mistakes;

	assert_true(
	    read_text(";; an odd day\n"
		      "at 7200.5  clog circuit=2 factor=0.3 over_s=3600 ;; slowly\n"
		      "\n"
		      "sheet 40\tlot name=A-0413 melt_flow=1.15\n"
		      "sheet 50+60 fault for_s=30\n"
		      "sheet 60 open for_s=30 channel=water.tool_3\n"
		      "at 9 dead-zone side=bottom zone=24\n"
		      "at 9 swap for_s=9 with=water.tool_4 channel=water.tool_3\n"
		      "at 9 stack by_c=-8 for_s=60",
		&mistakes));
	assert_null(mistakes.bytes);
	text_release(&mistakes);
	assert_int_equal(script.count, 7);
	assert_int_equal(script.events[0].kind, EVENT_CLOG);
	assert_false(script.events[0].by_sheet);
	assert_near(script.events[0].when, 7200.5, 0);
	assert_near(script.events[0].over_s, 3600, 0);
	assert_string_equal(script.events[1].lot, "A-0413");
	assert_near(script.events[1].thickness, 1, 0);
	assert_true(script.events[2].by_sheet);
	assert_near(script.events[2].after_s, 60, 0);
	assert_int_equal(script.events[3].point, registers_find_point("water.tool_3"));
	assert_int_equal(script.events[4].face, 1);
	assert_true(script.events[4].output_percent < 0);
	assert_near(script.events[1].conductivity, 1, 0);
	assert_near(script.events[1].emissivity, 0.94, 0);
	assert_int_equal(
	    script.events[5].other_point, registers_find_point("water.tool_4"));
	assert_near(script.events[6].by, -8, 0);
}

static void
every_mistake_is_told_with_its_line(void **state)
{
	(void)state;
	assert_refused("at 1 clogg circuit=2 factor=1\n"
		       "at 2 clog circuit=9 factor=x\n"
		       "sheet 1.5 empty\n",
	    "day.events:1: no event 'clogg'; did you mean 'clog'?\n"
	    "day.events:2: 'circuit' is 9, must be 1 to 8\n"
	    "day.events:2: 'factor' is 'x', must be a number\n"
	    "day.events:3: 'sheet' is followed by '1.5', must be a number from 1, or "
	    "number+seconds\n");
}

static void
what_is_missing_or_too_much_is_said(void **state)
{
	(void)state;
	assert_refused("when 3 empty\n", "day.events:1: 'when' is no beginning; write "
					 "'at SECONDS' or 'sheet NUMBER'\n");
	assert_refused("at\n", "day.events:1: 'at' is not followed by a number\n");
	assert_refused("at -1 empty\n", "day.events:1: 'at' is followed by '-1', must "
					"be seconds since the start\n");
	assert_refused("at 1\n", "day.events:1: no event ''\n");
	assert_refused("at 1 fault\n", "day.events:1: 'fault' needs 'for_s='\n");
	assert_refused("at 1 fault 30\n",
	    "day.events:1: '30' has no '='; write KEY=VALUE\n"
	    "day.events:1: 'fault' needs 'for_s='\n");
	assert_refused(
	    "at 1 fault for_s=3 for_s=4\n", "day.events:1: 'for_s' is given twice\n");
	assert_refused(
	    "at 1 empty for_s=3\n", "day.events:1: 'empty' has no 'for_s'\n");
	assert_refused("at 1 silent device=oven for_s=3\n",
	    "day.events:1: 'device' is 'oven', which there is not; did you mean "
	    "'ovens'?\n");
	assert_refused("at 1 open channel=tool for_s=3\n",
	    "day.events:1: no sensor 'tool'; write one as 'water.tool_3'\n");
	assert_refused("at 1 lot name=\n",
	    "day.events:1: 'name' must have 1 to 31 letters, no comma, no quote\n");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_good_script_is_read_whole),
	    cmocka_unit_test(every_mistake_is_told_with_its_line),
	    cmocka_unit_test(what_is_missing_or_too_much_is_said),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
