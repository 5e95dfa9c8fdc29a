/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `status` tells of the buses, and what it says to do. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>
#include <math.h>

#include "cli/command/status_remarks.h"
#include "daemon/ledger/ledger.h"
#include "daemon/ledger/ledger_lock.h"
#include "tests/unit/cli/command/plant.h"

static struct plant plant;

static int
open_plant(void **state)
{
	(void)state;
	setenv("COLUMNS", "400", 1);
	plant_open(&plant);
	return ledger_lock(plant.ledger_path, NULL);
}

static int
close_plant(void **state)
{
	(void)state;
	plant_close(&plant);
	return 0;
}

static struct ledger_device
device(const char *name, const char *state, const char *why)
{
	return (struct ledger_device){.device = name,
	    .line = "line-1",
	    .bus = "10.0.0.5:502",
	    .state = state,
	    .why = why,
	    .since = plant_time(0),
	    .at = plant_time(1),
	    .state_since = plant_time(0),
	    .period_s = 0.5,
	    .counts = {[LEDGER_COUNT_SCANS] = 1000,
		[LEDGER_COUNT_OPENED] = 1,
		[LEDGER_COUNT_GOOD] = 2000},
	    .recent_since = plant_time(0),
	    .recent = {[LEDGER_COUNT_GOOD] = 2000},
	    .late_p99_s = NAN,
	    .late_worst_s = NAN};
}

/* Files the devices, each with its row of health; then asks. */
static void
ask(const struct ledger_device *devices, size_t count, const char *format)
{
	struct ledger_health rows[8];
	char subjects[8][64];

	rows[0] = (struct ledger_health){
	    "daemon", "ok", "", plant_time(0), clock_wall(), 1, 0};
	for (size_t i = 0; i < count; i++) {
		snprintf(
		    subjects[i], sizeof subjects[i], "device %s", devices[i].device);
		rows[1 + i] = (struct ledger_health){subjects[i], devices[i].state,
		    strcmp(devices[i].state, "ok") == 0 ? "" : "why it fails",
		    plant_time(0), clock_wall(), devices[i].counts[0], 0};
	}
	assert_int_equal(
	    ledger_put_health(plant.ledger, rows, count + 1, devices, count, NULL), 0);
	plant_run_command(
	    &plant, "status", "--ledger", plant.ledger_path, "--format", format);
}

static void
people_see_the_columns_in_which_there_is_something(void **state)
{
	struct ledger_device devices[] = {
	    device("ovens", "ok", ""), device("water", "ok", "")};

	(void)state;
	ask(devices, 2, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "Buses: requests since 2026-03-02 06:00:00");
	assert_tells(plant.out, "requests  answered  connections\n");
	assert_null(strstr(plant.out, "timed out"));
	assert_null(strstr(plant.out, "late"));
	assert_null(strstr(plant.out, "what is"));

	devices[1].counts[LEDGER_COUNT_NONE] = 3;
	devices[1].late_p99_s = 0.0042;
	ask(devices, 2, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "answered  timed out");
	assert_tells(plant.out, "late ms");
	assert_tells(
	    plant.out, "late: 99 of 100 reads of the last one to two hours began");
	assert_tells(plant.out, "4.2");
	assert_null(strstr(plant.out, "gateway"));
	/* 3 of 2,003 are not often */
	assert_null(strstr(plant.out, "what is"));
}

static void
machines_get_every_count_under_its_name(void **state)
{
	struct ledger_device one = device("ovens", "silent", "none");
	char field[64];

	(void)state;
	for (int i = 0; i < LEDGER_COUNTS; i++)
		one.counts[i] = 100 + i;
	ask(&one, 1, "json");
	assert_int_equal(plant.code, COMMAND_NO);
	for (int i = 0; i < LEDGER_COUNTS; i++) {
		snprintf(field, sizeof field, "\"%s\": %d",
		    ledger_count_name((enum ledger_count)i), 100 + i);
		assert_tells(plant.out, field);
	}
	assert_tells(plant.out, "\"requests\": 860"); /* 104 + ... + 111 */
	assert_tells(plant.out, "\"why\": \"none\"");
	assert_tells(plant.out, "\"bus\": \"10.0.0.5:502\"");
	assert_tells(plant.out, "\"late_p99_s\": null");
}

/* As somebody sees it who pulls a plug to try [notify]. */
static void
a_silence_that_is_no_event_yet_is_told_as_such(void **state)
{
	struct ledger_device one = device("ovens", "silent", "none");

	(void)state;
	ask(&one, 1, "text");
	assert_null(strstr(plant.out, "no event yet"));
	one.state_since.ns = one.at.ns - 59 * CLOCK_SECOND_NS;
	ask(&one, 1, "text");
	assert_tells(plant.out, "silent for less than 60 s is no event yet");
}

static void
each_way_of_failing_is_told_with_what_to_do(void **state)
{
	static const struct {
		const char *why, *told;
	} cases[] = {
	    {"illegal", "evensoak registers"},
	    {"busy", "gap_ms"},
	    {"fault", "look at the device"},
	    {"gateway", "unit_id"},
	    {"none", "timeout_ms"},
	    {"wrong", "second master"},
	    {"lost", "serial port"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		struct ledger_device devices[] = {
		    device("ovens", "silent", cases[i].why),
		    device("water", "silent", cases[i].why)};
		devices[1].bus = "10.0.0.6:502";
		ask(devices, 2, "text");
		assert_int_equal(plant.code, COMMAND_NO);
		assert_tells(plant.out, "wrong: device ovens: why it fails; silent");
		assert_tells(plant.out, cases[i].told);
		/* once, however many fail that way */
		char *first = strstr(plant.out, "what is ");
		assert_non_null(first);
		assert_null(strstr(first + 1, "what is "));
	}
}

static void
a_device_that_answers_but_often_fails_is_told_and_not_wrong(void **state)
{
	struct ledger_device one = device("ovens", "ok", "");

	(void)state;
	one.recent[LEDGER_COUNT_WRONG] = 40;
	ask(&one, 1, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out,
	    "device ovens answers, but of 2040 requests since 2026-03-02 06:00:00 40 "
	    "were answered wrongly");
	assert_tells(plant.out, "second master");
	assert_tells(plant.out, "all is well");
}

/* Remarks end: what counts is what was lately. */
static void
what_is_long_past_is_not_remarked(void **state)
{
	struct ledger_device one = device("ovens", "ok", "");

	(void)state;
	one.counts[LEDGER_COUNT_NONE] = 1000;
	ask(&one, 1, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "timed out");
	assert_null(strstr(plant.out, "answers, but"));
	assert_null(strstr(plant.out, "what is"));
	assert_tells(plant.out, "all is well");
}

static void
a_sensor_without_a_value_is_told_and_wrong_once_it_lasts(void **state)
{
	struct ledger_device one = device("pyrometers", "ok", "");

	(void)state;
	one.bad_channels = 3;
	one.bad_text = "surface_top_2 frozen, surface_top_3 reports a fault, ...";
	one.bad_since.ns = one.at.ns - 61 * CLOCK_SECOND_NS;
	ask(&one, 1, "text");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out,
	    "wrong: device pyrometers: 3 channels without a value: surface_top_2 "
	    "frozen, surface_top_3 reports a fault, ...; since 2026-03-02 ");
	assert_tells(plant.out, "no value");
	assert_null(strstr(plant.out, "all is well"));
	ask(&one, 1, "json");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "\"bad_channels\": 3");
	assert_tells(plant.out, "\"bad\": \"surface_top_2 frozen,");
	assert_tells(plant.out, "\"wrong\": 1");

	one.bad_since.ns = one.at.ns - 59 * CLOCK_SECOND_NS;
	ask(&one, 1, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "device pyrometers: 3 channels without a value");
	assert_null(strstr(plant.out, "wrong:"));

	/* wrong already, by its state */
	one.state = "in_part";
	one.bad_channels = 1;
	one.bad_text = "air refused";
	one.bad_since.ns = one.at.ns - 3600 * CLOCK_SECOND_NS;
	ask(&one, 1, "json");
	assert_tells(plant.out, "\"wrong\": 1");
	ask(&one, 1, "text");
	assert_tells(
	    plant.out, "device pyrometers: 1 channel without a value: air refused");
}

static void
a_dead_bus_is_told_once_with_its_devices(void **state)
{
	struct ledger_device devices[] = {device("oven", "silent", "none"),
	    device("tool", "silent", "none"), device("water", "silent", "none"),
	    device("plc", "ok", "")};

	(void)state;
	for (int i = 0; i < 3; i++)
		devices[i].bus = "cabinet";
	ask(devices, 4, "json");
	assert_tells(plant.out, "\"wrong\": 1");
	ask(devices, 4, "text");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out,
	    "wrong: nobody on bus 'cabinet' answers since 2026-03-02 06:00:00: oven, "
	    "tool, water; why it fails; look at gateway, cable, network\n");
	assert_null(strstr(plant.out, "wrong: device"));
	assert_null(strstr(plant.out, "what is not answered"));
	assert_null(strstr(strstr(plant.out, "why it fails") + 1, "why it fails"));

	for (int i = 0; i < 3; i++)
		devices[i].port = "/dev/ttyUSB0";
	ask(devices, 4, "text");
	assert_tells(plant.out, "look at port, wires A and B, baud, parity\n");
	assert_null(strstr(plant.out, "fuser"));
	devices[1].why = "lost";
	ask(devices, 4, "text");
	assert_tells(plant.out, "another program on the port? (fuser /dev/ttyUSB0)");

	/* one that answers: it is not the bus */
	devices[2] = device("water", "ok", "");
	devices[2].bus = "cabinet";
	ask(devices, 4, "text");
	assert_null(strstr(plant.out, "nobody on"));
	assert_tells(plant.out, "wrong: device oven: ");
	assert_tells(plant.out, "wrong: device tool: ");
}

static void
a_port_that_another_program_may_hold_is_named(void **state)
{
	struct ledger_device one = device("dryer", "silent", "lost");

	(void)state;
	ask(&one, 1, "text");
	assert_null(strstr(plant.out, "fuser"));
	one.port = "/dev/ttyS4";
	ask(&one, 1, "text");
	assert_tells(
	    plant.out, "the service may open it; another program on the port?");
	assert_tells(plant.out, "(fuser /dev/ttyS4)");
}

static void
who_makes_others_late_is_named_and_not_given_more_time(void **state)
{
	struct ledger_device devices[] = {device("pyrometers", "ok", ""),
	    device("tool", "silent", "none"), device("far", "ok", "")};

	(void)state;
	devices[2].bus = "10.0.0.9:502";
	for (int i = 0; i < 3; i++)
		devices[i].late_p99_s = devices[i].late_worst_s = 21.96;
	ask(devices, 3, "text");
	assert_tells(plant.out,
	    "pyrometers is read up to 22.0 s late because tool on the "
	    "same bus does not answer");
	assert_tells(plant.out, "others on its bus answer");
	assert_null(strstr(plant.out, "timeout_ms"));
	assert_null(strstr(plant.out, "far is read"));

	/* less than its period is nothing to speak of */
	devices[0].late_worst_s = 0.4;
	ask(devices, 3, "text");
	assert_null(strstr(plant.out, "late because"));
	/* alone it may well be slow */
	devices[1].bus = "10.0.0.8:502";
	devices[0].late_worst_s = 21.96;
	ask(devices, 3, "text");
	assert_null(strstr(plant.out, "late because"));
	assert_tells(plant.out, "raise timeout_ms");
}

static void
a_device_that_was_not_tried_yet_leaves_the_verdict_open(void **state)
{
	struct ledger_device one = device("ovens", "starting", "");

	(void)state;
	ask(&one, 1, "text");
	assert_tells(plant.out, "nothing wrong so far; 1 device not tried yet");
	assert_null(strstr(plant.out, "all is well"));
}

/* The last test: the plant is another daemon's after it. */
static void
just_after_a_start_nothing_is_known(void **state)
{
	struct ledger_device one = device("ovens", "silent", "none");
	char lock[sizeof plant.ledger_path + 8];
	int64_t other_run = 42;

	(void)state;
	ask(&one, 1, "text");
	snprintf(lock, sizeof lock, "%s.lock", plant.ledger_path);
	FILE *file = fopen(lock, "r+");
	assert_non_null(file);
	assert_int_equal(fwrite(&other_run, sizeof other_run, 1, file), 1);
	fclose(file);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: daemon: starting, nothing known yet\n");
	assert_tells(plant.out, "as an earlier run of the daemon left it");
	assert_null(strstr(plant.out, "wrong: device"));
	assert_null(strstr(plant.out, "all is well"));
	plant_run_command(
	    &plant, "status", "--ledger", plant.ledger_path, "--format", "json");
	assert_tells(plant.out, "\"health_current\": false");
}

/* Beside the ledger; the rows in it say nothing of it. */
static void
what_the_daemon_cannot_write_is_told(void **state)
{
	struct ledger_device one = device("ovens", "answering", "none");
	char aside[sizeof plant.ledger_path + 8];

	(void)state;
	ledger_lock_tell("the disk is full; 7 shots wait in memory, 0 are lost");
	ask(&one, 1, "text");
	assert_int_equal(plant.code, COMMAND_NO);
	assert_tells(plant.out, "wrong: ledger: the disk is full; 7 shots wait");
	assert_null(strstr(plant.out, "nothing known yet"));

	/* also where there is no ledger to be read */
	snprintf(aside, sizeof aside, "%s.aside", plant.ledger_path);
	assert_int_equal(rename(plant.ledger_path, aside), 0);
	plant_run_command(&plant, "status", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_tells(plant.err, "evensoakd is running: the disk is full; 7 shots wait");
	assert_int_equal(rename(aside, plant.ledger_path), 0);
	ledger_lock_tell("");
	ask(&one, 1, "text");
	assert_null(strstr(plant.out, "wrong: ledger"));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(people_see_the_columns_in_which_there_is_something),
	    cmocka_unit_test(machines_get_every_count_under_its_name),
	    cmocka_unit_test(a_silence_that_is_no_event_yet_is_told_as_such),
	    cmocka_unit_test(each_way_of_failing_is_told_with_what_to_do),
	    cmocka_unit_test(
		a_device_that_answers_but_often_fails_is_told_and_not_wrong),
	    cmocka_unit_test(what_is_long_past_is_not_remarked),
	    cmocka_unit_test(a_sensor_without_a_value_is_told_and_wrong_once_it_lasts),
	    cmocka_unit_test(a_dead_bus_is_told_once_with_its_devices),
	    cmocka_unit_test(a_port_that_another_program_may_hold_is_named),
	    cmocka_unit_test(who_makes_others_late_is_named_and_not_given_more_time),
	    cmocka_unit_test(a_device_that_was_not_tried_yet_leaves_the_verdict_open),
	    cmocka_unit_test(what_the_daemon_cannot_write_is_told),
	    cmocka_unit_test(just_after_a_start_nothing_is_known),
	};
	return cmocka_run_group_tests_name("status", tests, open_plant, close_plant);
}
