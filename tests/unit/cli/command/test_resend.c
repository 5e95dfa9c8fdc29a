/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <sys/stat.h>
#include <sys/wait.h>

#include "tests/unit/cli/command/stored.h"

enum { SHOTS = 40 };

static struct plant plant;
static struct error error;

static int
open_plant(void **state)
{
	(void)state;
	unsetenv("COLUMNS"); /* of whoever runs the test */
	stored_open(&plant, "[store plant]\nurl = http://127.0.0.1:8086\n"
			    "database = evensoak\n");
	plant_run(&plant, 1, SHOTS);
	for (int64_t no = 1; no <= 3; no++)
		plant_need(ledger_put_event(plant.ledger, "line-3", plant_time(no * 10),
			       "recipe", "told", NULL) == 0,
		    "an event");
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
	plant_run_command(&plant, "resend", "--ledger", plant.ledger_path, __VA_ARGS__)

/* Shot 30 was filed at 07:30 in Berlin; the third event at the same instant. */
static void
a_dry_run_says_what_would_go_and_changes_nothing(void **state)
{
	(void)state;
	stored_deliver_all(&plant, "plant");
	run("plant", "--from", "2026-03-02T07:30", "--dry-run");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "nothing is changed");
	assert_int_equal(stored_lack(&plant, "plant").shots, 0);
	run("plant", "--from", "2026-03-02T07:30", "--dry-run", "--format", "json");
	assert_tells(plant.out, "\"dry_run\": true");
	assert_tells(plant.out, "\"shots\": 11");
	assert_tells(plant.out, "\"shots_before\": 0");
	assert_tells(plant.out, "\"events\": 1");
}

static void
a_store_is_set_back_to_the_time_that_is_said(void **state)
{
	(void)state;
	stored_deliver_all(&plant, "plant");
	run("plant", "--from", "2026-03-02T07:30", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "\"dry_run\": false");
	assert_tells(plant.out, "\"shots\": 11");
	assert_tells(plant.out, "\"events\": 1");
	assert_int_equal(stored_lack(&plant, "plant").shots, 11);
	assert_int_equal(stored_lack(&plant, "plant").events, 1);
	assert_int_equal(stored_lack(&plant, "plant").next.ns, plant_time(30).ns);
	/* never forward */
	run("plant", "--from", "2026-03-02T07:36", "--format", "json");
	assert_tells(plant.out, "\"shots\": 11");
	assert_tells(plant.out, "\"shots_before\": 11");
	assert_int_equal(stored_lack(&plant, "plant").shots, 11);
}

static void
what_a_dry_run_says_is_what_goes_out(void **state)
{
	static const char *const times[] = {"2026-03-01", "2026-03-02T06:00",
	    "2026-03-02T06:31", "2026-03-02T08:00", "2026-03-09"};

	(void)state;
	/* a shot that was labelled anew has a late change and an early time */
	plant_context(&plant, CONTEXT_LOT, "A-0413", 20);
	for (size_t i = 0; i < sizeof times / sizeof times[0]; i++) {
		int64_t would[2] = {-1, -1}, will[2] = {-1, -1};
		stored_deliver_all(&plant, "plant");
		run("plant", "--from", times[i], "--dry-run", "--format", "json");
		assert_int_equal(plant.code, COMMAND_DONE);
		sscanf(strstr(plant.out, "\"shots\": "), "\"shots\": %ld", &would[0]);
		sscanf(strstr(plant.out, "\"events\": "), "\"events\": %ld", &would[1]);
		run("plant", "--from", times[i], "--format", "json");
		sscanf(strstr(plant.out, "\"shots\": "), "\"shots\": %ld", &will[0]);
		sscanf(strstr(plant.out, "\"events\": "), "\"events\": %ld", &will[1]);
		assert_true(would[0] >= 0 && would[1] >= 0);
		assert_int_equal(would[0], will[0]);
		assert_int_equal(would[1], will[1]);
		assert_int_equal(stored_lack(&plant, "plant").shots, will[0]);
	}
}

static void
a_name_that_nobody_knows_is_refused_with_the_nearest(void **state)
{
	(void)state;
	run("plnat", "--from", "2026-03-02");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "there is no store 'plnat'; did you mean 'plant'?");
	assert_string_equal(plant.out, "");
	run("zzz", "--from", "2026-03-02");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "there is no store 'zzz'; there is 'plant'");
}

static void
a_store_that_only_the_ledger_knows_is_set_back_and_told(void **state)
{
	(void)state;
	stored_deliver_all(&plant, "old-one");
	run("old-one", "--from", "2026-03-02T07:30");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out,
	    "'old-one' is not in the set-up any more: nothing goes out until it is");
	assert_int_equal(stored_lack(&plant, "old-one").shots, 11);
	/* and is thought of when a name is wrong */
	run("oldone", "--from", "2026-03-02");
	assert_tells(plant.err, "did you mean 'old-one'?");
}

static void
from_when_on_must_be_said_one_way(void **state)
{
	(void)state;
	run("plant");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "say from when on: --from TIME or --since SPAN; or "
				"--refused");
	run("plant", "--from", "2026-03-02", "--since", "7d");
	assert_int_equal(plant.code, COMMAND_USAGE);
	run("plant", "--from", "2026-03-02", "--refused");
	assert_int_equal(plant.code, COMMAND_USAGE);
	run("plant", "--from", "tuesday");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "'tuesday'");
	plant_run_command(&plant, "resend", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "'resend' needs STORE");
}

/* --- refused lines ------------------------------------------------------------------ */

static void
refuse(int64_t no, const char *words)
{
	char line[256];

	snprintf(line, sizeof line,
	    "shot,site=plant-7,line=line-3,recipe=12 shot_no=%ldi,heat_s=152.25 %ld",
	    (long)no, (long)(plant_time(no).ns + no * 1000000));
	const struct ledger_refusal refusal = {
	    "plant", no, line, words, plant_time(60)};
	assert_int_equal(ledger_put_refusal(plant.ledger, &refusal, &error), 0);
}

static void
what_was_refused_is_listed_with_the_words_and_goes_out_again(void **state)
{
	(void)state;
	stored_deliver_all(&plant, "plant");
	refuse(25, "400 partial write: field type conflict dropped=1");
	refuse(31, "400 points beyond retention policy dropped=1");
	assert_int_equal(stored_lack(&plant, "plant").refused, 2);
	run("plant", "--refused", "--dry-run");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.out, "field type conflict dropped=1");
	assert_tells(plant.out, "beyond retention policy");
	assert_tells(plant.out, "nothing is changed");
	assert_int_equal(stored_lack(&plant, "plant").refused, 2);

	run("plant", "--refused", "--format", "json");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "\"shots\": 16"); /* 25 to 40 */
	assert_tells(plant.out, "shot_no=25i,heat_s=152.25 ");
	assert_int_equal(stored_lack(&plant, "plant").shots, 16);
	assert_int_equal(stored_lack(&plant, "plant").refused, 0);
	run("plant", "--refused");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_says(plant.out, "no line is set aside that 'plant' has refused");
}

static void
refused_lines_as_csv_are_whole(void **state)
{
	(void)state;
	stored_deliver_all(&plant, "plant");
	refuse(25, "400 no, \"never\"");
	run("plant", "--refused", "--dry-run", "--format", "csv");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "refused_at,answer,line,time\r\n");
	assert_tells(plant.out, "\"400 no, \"\"never\"\"\"");
	assert_tells(plant.out, "heat_s=152.25 ");
	assert_tells_not(plant.out, " ...");
}

static void
thousands_of_refused_lines_are_a_row_for_each_wording(void **state)
{
	char words[160];

	(void)state;
	stored_deliver_all(&plant, "plant");
	for (int64_t no = 1; no <= SHOTS; no++) {
		snprintf(words, sizeof words,
		    "400 unable to parse 'shot,site=a,line=b heat_s=1.%ld': at byte "
		    "%ld",
		    (long)no, (long)no * 7);
		refuse(
		    no, no % 4 == 0 ? "400 beyond retention policy dropped=1" : words);
	}
	run("plant", "--refused", "--dry-run");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "     30  shot  line-3  2026-03-02 06:03:00");
	assert_tells(plant.out, "     10  shot  line-3  2026-03-02 06:12:00");
	assert_tells(plant.out, "unable to parse ...: at byte 7");
	assert_tells_not(plant.out, "at byte 14");
	assert_tells_not(plant.out, "heat_s");
	assert_tells(plant.out, "the 10 lines: its retention is shorter");
	run("plant", "--refused", "--dry-run", "--format", "json");
	assert_tells(plant.out, "at byte 14");
	assert_tells(plant.out, "heat_s=152.25");
}

/* --- who may -------------------------------------------------------------------------- */

static bool
is_told_as_nobody(void)
{
	/* root may do anything: as nobody, whose number Debian has fixed */
	if (geteuid() == 0 && seteuid(65534) != 0)
		return false;
	run("plant", "--from", "2026-03-02");
	if (plant.code != COMMAND_CANNOT || !strstr(plant.err, "writable for user")) {
		print_message("%d %s\n", (int)plant.code, plant.err);
		return false;
	}
	run("plant", "--from", "2026-03-02", "--dry-run");
	return plant.code == COMMAND_DONE;
}

static void
who_may_not_write_is_told_what_to_do_and_may_still_look(void **state)
{
	int status;

	(void)state;
	stored_deliver_all(&plant, "plant");
	assert_int_equal(chmod(plant.ledger_path, 0444), 0);
	assert_int_equal(chmod(plant.folder, 0555), 0);
	pid_t child = fork();
	assert_true(child >= 0);
	if (child == 0)
		_exit(is_told_as_nobody() ? 0 : 1);
	assert_int_equal(waitpid(child, &status, 0), child);
	assert_int_equal(chmod(plant.folder, 0755), 0);
	assert_int_equal(chmod(plant.ledger_path, 0644), 0);
	assert_int_equal(status, 0);
	assert_int_equal(stored_lack(&plant, "plant").shots, 0);
}

#define test(function) \
	cmocka_unit_test_setup_teardown(function, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    test(a_dry_run_says_what_would_go_and_changes_nothing),
	    test(a_store_is_set_back_to_the_time_that_is_said),
	    test(what_a_dry_run_says_is_what_goes_out),
	    test(a_name_that_nobody_knows_is_refused_with_the_nearest),
	    test(a_store_that_only_the_ledger_knows_is_set_back_and_told),
	    test(from_when_on_must_be_said_one_way),
	    test(what_was_refused_is_listed_with_the_words_and_goes_out_again),
	    test(refused_lines_as_csv_are_whole),
	    test(thousands_of_refused_lines_are_a_row_for_each_wording),
	    test(who_may_not_write_is_told_what_to_do_and_may_still_look),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
