/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "tests/unit/cli/command/stored.h"
#include "tests/unit/daemon/publish/safe_line.h"

enum { SHOTS = 40, RELABELLED = 5 };

static struct plant plant;
static struct safe_line line; /* large */

static int
open_plant(void **state)
{
	(void)state;
	unsetenv("COLUMNS"); /* of whoever runs the test */
	stored_open(&plant, "[store plant]\nurl = http://127.0.0.1:8086\n"
			    "database = evensoak\n"
			    "[store other]\nkind = victoriametrics\n"
			    "url = http://127.0.0.1:8428\n");
	plant_run(&plant, 1, SHOTS);
	/* they get other tags, and their first revisions marks */
	plant_context(&plant, CONTEXT_TOOL, "T-7", SHOTS - RELABELLED + 1);
	for (int64_t no = 1; no <= 3; no++)
		plant_need(ledger_put_event(plant.ledger, "line-3", plant_time(no * 10),
			       "recipe", "told", NULL) == 0,
		    "an event");
	plant_need(ledger_put_event(plant.ledger, NULL, plant_time(5), "start",
		       "version 0", NULL) == 0,
	    "an event of the logger");
	return 0;
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

#define run(...) \
	plant_run_command(&plant, "export", "--ledger", plant.ledger_path, __VA_ARGS__)

struct seen {
	int lines, current, shots[SHOTS + 1][2]; /* by number and revision */
	int marks, events, absent, words, channels;
};

static void
see(struct seen *seen)
{
	const char *revision = safe_line_tag(&line, "revision");
	const char *no = safe_line_field(&line, "shot_no");

	seen->lines++;
	seen->current += safe_line_field(&line, "current") != NULL;
	if (strcmp(line.measurement, "event") == 0) {
		seen->events++;
	} else if (safe_line_field(&line, "superseded")) {
		seen->marks += strcmp(line.measurement, "shot") == 0;
	} else if (strcmp(line.measurement, "shot") == 0) {
		assert_non_null(no);
		assert_non_null(revision);
		int64_t number = atoll(no);
		assert_in_range(number, 1, SHOTS);
		seen->shots[number][atoi(revision) > 0]++;
	} else if (strcmp(line.measurement, "shot_absent") == 0) {
		seen->absent++;
	} else if (strcmp(line.measurement, "shot_words") == 0) {
		seen->words++;
	} else {
		assert_string_equal(line.measurement, "shot_channel");
		seen->channels++;
	}
}

/* Reads all that was written, with a reader of its own. */
static struct seen
read_lines(void)
{
	struct seen seen = {0};

	assert_int_equal(plant.code, COMMAND_DONE);
	for (const char *from = plant.out; *from;) {
		from = safe_line_read(&line, from);
		see(&seen);
	}
	return seen;
}

static void
every_shot_goes_once_in_its_last_revision_and_the_earlier_are_marked(void **state)
{
	(void)state;
	run("--format", "lines");
	struct seen seen = read_lines();
	for (int no = 1; no <= SHOTS; no++) {
		bool again = no > SHOTS - RELABELLED;
		assert_int_equal(seen.shots[no][0], again ? 0 : 1);
		assert_int_equal(seen.shots[no][1], again ? 1 : 0);
	}
	assert_int_equal(seen.marks, RELABELLED);
	assert_int_equal(seen.events, 4);
	assert_int_equal(seen.words, 0);
	assert_tells(
	    plant.err, "the lines of 40 shots, 4 events and 0 closed shifts of '");
	assert_tells(plant.err, "as for kind influxdb1");
}

static void
a_span_and_a_line_choose(void **state)
{
	(void)state;
	run("--from", "2026-03-02T07:30", "--to", "2026-03-02T07:39");
	struct seen seen = read_lines(); /* 30, 31, 32; the third event */
	assert_int_equal(seen.shots[30][0] + seen.shots[31][0] + seen.shots[32][0], 3);
	assert_int_equal(seen.shots[29][0] + seen.shots[33][0], 0);
	assert_int_equal(seen.events, 1);
	run("--line", "line-3");
	assert_int_equal(read_lines().events, 3);
	run("--line", "line-4");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "did you mean 'line-3'?");
}

static void
the_lines_are_as_the_kind_of_store_wants_them(void **state)
{
	(void)state;
	run("--store", "plant");
	struct seen influx = read_lines();
	assert_true(influx.current >= SHOTS);
	run("--store", "other");
	struct seen victoria = read_lines();
	assert_int_equal(victoria.words, SHOTS);
	assert_int_equal(victoria.current, 0);
	assert_tells_not(plant.out, "\"");
	assert_tells(plant.err, "as for kind victoriametrics");
	run("--store", "plnat");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "there is no store 'plnat'; did you mean 'plant'?");
}

static void
nothing_is_the_answer_no_and_is_told(void **state)
{
	(void)state;
	run("--from", "2026-04-02");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_string_equal(plant.out, "");
	assert_tells(plant.err, "no such shots and no such events in '");
}

static void
another_format_is_told_where_to_get_it(void **state)
{
	static const char *const formats[] = {"text", "json", "csv", "svg", "liens"};

	(void)state;
	for (size_t i = 0; i < sizeof formats / sizeof formats[0]; i++) {
		run("--format", formats[i]);
		assert_int_equal(plant.code, COMMAND_USAGE);
		assert_string_equal(plant.out, "");
		assert_tells(plant.err, "must be lines");
		assert_tells(plant.err, "'evensoak shots --format csv'");
	}
}

static void
a_full_disk_under_the_output_is_noticed(void **state)
{
	char program[] = "evensoak", export[] = "export", option[] = "--ledger";
	char *words[] = {program, export, option, plant.ledger_path, NULL};
	char *told = NULL;
	size_t length;
	FILE *full = fopen("/dev/full", "w"), *err = open_memstream(&told, &length);

	(void)state;
	assert_non_null(full);
	assert_non_null(err);
	assert_int_equal(command_main(4, words, full, err), COMMAND_CANNOT);
	fclose(err);
	fclose(full);
	assert_tells(told, "cannot write the lines: No space left on device");
	assert_tells_not(told, "the lines of");
	free(told);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		every_shot_goes_once_in_its_last_revision_and_the_earlier_are_marked),
	    cmocka_unit_test(a_span_and_a_line_choose),
	    cmocka_unit_test(the_lines_are_as_the_kind_of_store_wants_them),
	    cmocka_unit_test(nothing_is_the_answer_no_and_is_told),
	    cmocka_unit_test(another_format_is_told_where_to_get_it),
	    cmocka_unit_test(a_full_disk_under_the_output_is_noticed),
	};
	return cmocka_run_group_tests(tests, open_plant, close_plant);
}
