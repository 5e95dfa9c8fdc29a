/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A ledger, the thread, and real programs: what is told, how often, and what is not. */
#include "daemon/notify/notifier.h"

#include <stdbool.h>

#include "conf/settings.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/ledger/ledger_read_delivery.h"
#include "daemon/notify/child.h"
#include "daemon/notify/message.h"
#include "tests/unit/daemon/notify/script.h"

/* Appends what it is told, and a line with the count. */
#define WRITES "cat >>$F/told; echo \"= $EVENSOAK_COUNT\" >>$F/told"

static struct notifier_pace pace;
static struct settings settings;
static struct ledger *ledger;
static struct notifier *notifier;
static struct error error;

static uint32_t
bit(const char *kind)
{
	return UINT32_C(1) << words_find(&words_event, kind);
}

static void
start(void)
{
	notifier = notifier_start(&settings, &pace, &error);
	assert_non_null(notifier);
	notifier_open(notifier);
}

static void
stop(void)
{
	notifier_stop(notifier);
	notifier = NULL;
}

static int
set_up(void **state)
{
	(void)state;
	log_set_level(LOG_LEVEL_ERROR - 1);
	make_folder();
	pace = (struct notifier_pace){0.02, 0.1, 0.05, 0.1};
	settings = (struct settings){.site = "works"};
	snprintf(settings.ledger, sizeof settings.ledger, "%s/ledger.db", folder);
	text_copy(settings.notify.program, sizeof settings.notify.program, script);
	settings.notify.on = bit("device_silent") | bit("finding") | bit("shots_lost");
	settings.notify.timeout_s = 20;
	ledger = ledger_open(settings.ledger, NULL, &error);
	write_script(WRITES);
	return ledger != NULL ? 0 : -1;
}

static int
tear_down(void **state)
{
	(void)state;
	notifier_stop(notifier);
	notifier = NULL;
	ledger_close(ledger);
	remove_folder();
	return 0;
}

static struct wall
ago(double s)
{
	return (struct wall){clock_wall().ns - (int64_t)(s * 1e9)};
}

static void
put(const char *kind, const char *text)
{
	assert_int_equal(ledger_put_event(ledger, NULL, ago(0), kind, text, &error), 0);
}

static struct notifier_status
status(void)
{
	struct notifier_status now;

	notifier_status(notifier, &now);
	return now;
}

/* Until so many runs were well, or had failed; ten seconds at most. */
static void
wait_told(int64_t runs)
{
	for (int i = 0; i < 1000 && status().told < runs; i++)
		sleep_ms(10);
	assert_int_equal(status().told, runs);
}

static void
wait_failed(int64_t failures)
{
	for (int i = 0; i < 1000 && status().failures < failures; i++)
		sleep_ms(10);
	assert_true(status().failures >= failures);
}

static void
wait_works(int works)
{
	for (int i = 0; i < 1000 && status().works != works; i++)
		sleep_ms(10);
	assert_int_equal(status().works, works);
}

/* The cursor is on file: what comes from here on is told. */
static void
wait_begun(void)
{
	struct ledger_delivered delivered = {0};

	for (int i = 0; i < 1000 && delivered.at.ns == 0; i++) {
		sleep_ms(10);
		assert_int_equal(
		    ledger_delivered(ledger, "[notify]", "notice", &delivered, &error),
		    0);
	}
	assert_true(delivered.at.ns != 0);
}

static int
occurrences(const char *what)
{
	int count = 0;

	for (const char *at = file_text("told"); (at = strstr(at, what)) != NULL; at++)
		count++;
	return count;
}

/* Time for a call that must not come. */
static void
assert_quiet(int64_t runs)
{
	sleep_ms(400);
	assert_int_equal(status().told, runs);
}

/* --- what is told --------------------------------------------------------------------- */

static void
what_comes_at_once_is_one_call(void **state)
{
	char text[64];

	(void)state;
	pace.gather_s = 2; /* a slow disk writes them one after another */
	start();
	wait_begun();
	for (int i = 0; i < 64; i++) {
		snprintf(text, sizeof text, "device 'd%d' does not answer", i);
		put("device_silent", text);
	}
	wait_told(1);
	assert_int_equal(occurrences(" - device_silent device 'd"), MESSAGE_EVENTS);
	assert_int_equal(occurrences("and 14 more: see 'evensoak status'\n= 64\n"), 1);
	assert_quiet(1);
	assert_int_equal(status().works, 1);
}

static void
other_kinds_are_passed_over(void **state)
{
	(void)state;
	start();
	wait_begun();
	put("clock_step", "nobody asked for it");
	put("of_a_later_version", "nor for this");
	put("finding", "the first");
	wait_told(1);
	put("clock_step", "nobody asked for it");
	assert_quiet(1);
	assert_int_equal(occurrences("nobody"), 0);
	assert_int_equal(occurrences("nor for"), 0);
	assert_int_equal(occurrences(" - finding the first\n= 1\n"), 1);
}

static void
what_is_from_before_the_section_is_not_told(void **state)
{
	(void)state;
	put("finding", "from before");
	start();
	wait_begun();
	put("finding", "from now on");
	wait_told(1);
	assert_int_equal(occurrences("from before"), 0);
	assert_int_equal(occurrences("from now on"), 1);
}

/* Without a section nobody is told, and nothing is forgotten. */
static void
what_was_filed_while_the_section_was_out_is_told(void **state)
{
	(void)state;
	start();
	wait_begun();
	stop();
	put("finding", "meanwhile");
	assert_int_equal(ledger_put_event(ledger, NULL, ago(NOTIFIER_OLDEST_S + 60),
			     "shots_lost", "long ago", &error),
	    0);
	start();
	wait_told(1);
	assert_int_equal(occurrences("meanwhile\n= 1\n"), 1);
}

static void
put_ago(double s, const char *kind, const char *text)
{
	assert_int_equal(ledger_put_event(ledger, NULL, ago(s), kind, text, &error), 0);
}

static void
what_is_older_than_a_day_is_not_told(void **state)
{
	(void)state;
	pace.gather_s = 0.5;
	start();
	wait_begun();
	put_ago(NOTIFIER_OLDEST_S + 60, "device_silent", "old");
	put_ago(NOTIFIER_OLDEST_S - 60, "device_silent", "young");
	/* of a shift that was a day long */
	put_ago(2 * NOTIFIER_OLDEST_S + 60, "finding", "forgotten");
	put_ago(2 * NOTIFIER_OLDEST_S - 60, "finding", "yesterday");
	wait_told(1);
	assert_int_equal(occurrences("old"), 0);
	assert_int_equal(occurrences("young"), 1);
	assert_int_equal(occurrences("forgotten"), 0);
	assert_int_equal(occurrences("yesterday"), 1);
	assert_int_equal(occurrences("= 2\n"), 1);
}

/* Fifty that nobody could be told of grow old together; behind them were younger ones. */
static void
what_had_no_room_is_told_once_the_others_are_old(void **state)
{
	const int left_s = 4;
	struct wall old = ago(NOTIFIER_OLDEST_S - left_s);

	(void)state;
	write_script("exit 1");
	start();
	wait_begun();
	for (int i = 0; i < MESSAGE_EVENTS; i++)
		assert_int_equal(ledger_put_event(ledger, NULL, old, "device_silent",
				     "grows old", &error),
		    0);
	put("finding", "younger");
	put("shots_lost", "the youngest");
	assert_true(clock_wall().ns - old.ns < NOTIFIER_OLDEST_S * CLOCK_SECOND_NS);
	wait_failed(1);
	sleep_ms(left_s * 1000);
	write_script(WRITES);
	wait_told(1);
	assert_int_equal(occurrences("grows old"), 0);
	assert_int_equal(occurrences("younger"), 1);
	assert_int_equal(occurrences("the youngest"), 1);
	assert_int_equal(occurrences("= 2\n"), 1);
	assert_quiet(1);
}

static void
a_restart_neither_repeats_nor_loses(void **state)
{
	(void)state;
	start();
	wait_begun();
	put("finding", "first");
	wait_told(1);
	stop();
	put("finding", "second");
	start();
	wait_told(1);
	assert_int_equal(occurrences("first"), 1);
	assert_int_equal(occurrences("second"), 1);
	assert_quiet(1);
}

/* --- programs that fail ----------------------------------------------------------------- */

static void
a_program_that_fails_is_run_again_until_it_does_not(void **state)
{
	(void)state;
	write_script("echo no route >&2; exit 3");
	start();
	wait_begun();
	put("finding", "first");
	wait_failed(1);
	assert_int_equal(status().works, 0);
	assert_non_null(strstr(status().text, "program' ended with 3: no route; mend"));
	put("finding", "second");
	wait_failed(2);
	write_script(WRITES);
	wait_told(1);
	assert_int_equal(status().works, 1);
	assert_int_equal(occurrences("first"), 1);
	assert_int_equal(occurrences("second"), 1);
	assert_int_equal(occurrences("= 2\n"), 1);
	assert_quiet(1);
}

static void
what_a_failing_program_was_not_told_outlives_a_restart(void **state)
{
	(void)state;
	write_script("exit 1");
	start();
	wait_begun();
	put("finding", "first");
	wait_failed(1);
	stop();
	write_script(WRITES);
	start();
	wait_told(1);
	assert_int_equal(occurrences("first"), 1);
}

static void
a_flood_while_it_hangs_is_one_call_afterwards(void **state)
{
	(void)state;
	settings.notify.timeout_s = 0.5;
	write_script("echo x >>$F/begun; exec sleep 60");
	start();
	wait_begun();
	put("finding", "first");
	wait_for_file("begun");
	for (int i = 0; i < 100; i++)
		put("finding", "flood");
	write_script(WRITES);
	wait_failed(1);
	assert_non_null(strstr(status().text, "did not end within 0.5 s"));
	wait_told(1);
	assert_int_equal(occurrences("first"), 1);
	assert_int_equal(occurrences("= 101\n"), 1);
	assert_quiet(1);
}

static void
a_stop_ends_what_hangs_and_tells_it_anew(void **state)
{
	int64_t begun_ns;

	(void)state;
	write_script("trap '' TERM; echo x >>$F/begun; while :; do sleep 1; done");
	start();
	wait_begun();
	put("finding", "first");
	wait_for_file("begun");
	begun_ns = clock_mono().ns;
	stop();
	assert_true(clock_mono().ns - begun_ns <
		    (int64_t)((NOTIFIER_STOP_S + CHILD_GRACE_S + 1) * 1e9));
	write_script(WRITES);
	start();
	wait_told(1);
	assert_int_equal(occurrences("first"), 1);
}

static void
a_program_that_is_not_fit_is_told_of_before_it_is_needed(void **state)
{
	(void)state;
	assert_int_equal(chmod(script, 0757), 0);
	start();
	wait_begun();
	wait_works(0);
	assert_non_null(strstr(status().text, "everybody may write"));
	put("finding", "first");
	assert_quiet(0);
	assert_string_equal(file_text("told"), "");
	assert_int_equal(status().failures, 0);
	assert_int_equal(chmod(script, 0755), 0);
	wait_told(1);
	assert_int_equal(status().works, 1);
	assert_int_equal(unlink(script), 0);
	wait_works(0);
	assert_non_null(strstr(status().text, "is not there"));
}

/* --- past the ledger, and other settings -------------------------------------------------- */

static void
what_cannot_be_filed_is_told_once(void **state)
{
	struct ledger_event event = {.at = ago(1)};

	(void)state;
	text_copy(event.kind, sizeof event.kind, "shots_lost");
	text_copy(event.text, sizeof event.text, "3 shots were lost");
	notifier = notifier_start(&settings, &pace, &error); /* and no ledger */
	assert_non_null(notifier);
	notifier_tell(notifier, &event);
	wait_told(1);
	assert_int_equal(occurrences("3 shots were lost"), 1);
	notifier_open(notifier);
	wait_begun();
	assert_int_equal(
	    ledger_put_event(ledger, NULL, event.at, event.kind, event.text, &error),
	    0);
	assert_quiet(1);
	put("shots_lost", "4 shots were lost");
	wait_told(2);
	assert_int_equal(occurrences("3 shots were lost"), 1);
}

static void
past_the_ledger_a_flood_is_counted(void **state)
{
	struct ledger_event event = {.at = ago(1)};

	(void)state;
	text_copy(event.kind, sizeof event.kind, "device_silent");
	notifier = notifier_start(&settings, &pace, &error);
	assert_non_null(notifier);
	for (int i = 0; i < 1000; i++)
		notifier_tell(notifier, &event);
	wait_told(1);
	sleep_ms(300);
	int64_t total = 0;
	for (const char *at = file_text("told"); (at = strstr(at, "\n= ")) != NULL;
	     at++)
		total += strtol(at + 3, NULL, 10);
	assert_int_equal(total, 1000);
}

static void
a_reload_brings_other_kinds_and_another_program(void **state)
{
	char other[80];

	(void)state;
	start();
	wait_begun();
	put("finding", "first");
	wait_told(1);
	snprintf(other, sizeof other, "%s/other", folder);
	assert_int_equal(rename(script, other), 0);
	text_copy(settings.notify.program, sizeof settings.notify.program, other);
	settings.notify.on = bit("disk_low");
	notifier_adopt(notifier, &settings);
	sleep_ms(100);
	put("finding", "second");
	put("disk_low", "third");
	wait_told(2);
	assert_int_equal(occurrences("first"), 1);
	assert_int_equal(occurrences("second"), 0);
	assert_int_equal(occurrences("third"), 1);
}

/* Only stores are destinations. */
static int
take_destination(void *arg, const char *destination)
{
	(void)arg;
	fail_msg("'%s' is no store", destination);
	return 0;
}

static void
its_cursor_is_no_store(void **state)
{
	(void)state;
	start();
	wait_begun();
	struct ledger_read *read = ledger_read_open(settings.ledger, &error);
	assert_non_null(read);
	assert_int_equal(
	    ledger_read_destinations(read, take_destination, NULL, &error), 0);
	ledger_read_close(read);
}

int
main(void)
{
#define TEST(test) cmocka_unit_test_setup_teardown(test, set_up, tear_down)
	const struct CMUnitTest tests[] = {
	    TEST(what_comes_at_once_is_one_call),
	    TEST(other_kinds_are_passed_over),
	    TEST(what_is_from_before_the_section_is_not_told),
	    TEST(what_was_filed_while_the_section_was_out_is_told),
	    TEST(what_is_older_than_a_day_is_not_told),
	    TEST(what_had_no_room_is_told_once_the_others_are_old),
	    TEST(a_restart_neither_repeats_nor_loses),
	    TEST(a_program_that_fails_is_run_again_until_it_does_not),
	    TEST(what_a_failing_program_was_not_told_outlives_a_restart),
	    TEST(a_flood_while_it_hangs_is_one_call_afterwards),
	    TEST(a_stop_ends_what_hangs_and_tells_it_anew),
	    TEST(a_program_that_is_not_fit_is_told_of_before_it_is_needed),
	    TEST(what_cannot_be_filed_is_told_once),
	    TEST(past_the_ledger_a_flood_is_counted),
	    TEST(a_reload_brings_other_kinds_and_another_program),
	    TEST(its_cursor_is_no_store),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
