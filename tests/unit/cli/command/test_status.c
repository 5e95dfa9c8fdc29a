/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What `status` tells of the buses, and what it says to do. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>
#include <math.h>

#include "daemon/ledger/ledger.h"
#include "tests/unit/cli/command/plant.h"

static struct plant plant;

static int
open_plant(void **state)
{
	(void)state;
	setenv("COLUMNS", "160", 1);
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
	    .counts = {[LEDGER_COUNT_SCANS] = 1000,
		[LEDGER_COUNT_OPENED] = 1,
		[LEDGER_COUNT_GOOD] = 2000},
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
	    "daemon", "ok", "", plant_time(0), plant_time(1), 1, 0};
	for (size_t i = 0; i < count; i++) {
		snprintf(
		    subjects[i], sizeof subjects[i], "device %s", devices[i].device);
		rows[1 + i] = (struct ledger_health){subjects[i], devices[i].state,
		    strcmp(devices[i].state, "ok") == 0 ? "" : "why it fails",
		    plant_time(0), plant_time(1), devices[i].counts[0], 0};
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
	assert_null(strstr(plant.out, "p99"));
	assert_null(strstr(plant.out, "what is"));

	devices[1].counts[LEDGER_COUNT_NONE] = 3;
	devices[1].late_p99_s = 0.0042;
	ask(devices, 2, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "answered  timed out");
	assert_tells(plant.out, "p99");
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
	one.counts[LEDGER_COUNT_WRONG] = 40;
	ask(&one, 1, "text");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells(plant.out, "device ovens answers, but of 2040 requests 40 were "
				"answered wrongly");
	assert_tells(plant.out, "second master");
	assert_tells(plant.out, "all is well");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(people_see_the_columns_in_which_there_is_something),
	    cmocka_unit_test(machines_get_every_count_under_its_name),
	    cmocka_unit_test(each_way_of_failing_is_told_with_what_to_do),
	    cmocka_unit_test(
		a_device_that_answers_but_often_fails_is_told_and_not_wrong),
	};
	return cmocka_run_group_tests_name("status", tests, open_plant, close_plant);
}
