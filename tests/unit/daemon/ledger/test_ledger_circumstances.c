/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people told of a shot, as whoever makes its record is told it. */
#include "daemon/shot/circumstances.h"

#include <sys/stat.h>

#include "tests/unit/daemon/ledger/ledger_pair.h"

static double correction[FIXTURE_CHANNELS];

static void
enter(enum context_key key, const char *value, struct wall from)
{
	const struct ledger_entry entry = {"line-1", key, value, from, seconds(999999)};
	int64_t relabelled;

	if (ledger_put_context(ledger, &entry, &relabelled, &error) != 0)
		fail_msg("%s", error.text);
}

static void
put_lot(const char *name, double thickness_m, double stack_c, const char *material)
{
	struct ledger_lot lot = {
	    .name = name, .thickness_m = thickness_m, .stack_c = stack_c};

	text_copy(lot.material, sizeof lot.material, material);
	if (ledger_put_lot(ledger, &lot, NULL, &error) != 0)
		fail_msg("%s", error.text);
}

/* Of a channel of line-1. */
static void
calibrate(const char *device, const char *channel, double as_left, struct wall at)
{
	const struct ledger_calibration calibration = {
	    .line = "line-1",
	    .device = device,
	    .channel = channel,
	    .at = at,
	    .as_found = NAN,
	    .as_left = as_left,
	};

	if (ledger_put_calibration(ledger, &calibration, &error) != 0)
		fail_msg("%s", error.text);
}

/* The writer and the reader say the same. */
static struct circumstances
told(uint32_t line, int recipe, struct wall at)
{
	static double other[FIXTURE_CHANNELS];
	struct circumstances one = {0}, two = {0};

	const struct ledger_question question = {&fixture.settings, line, recipe, at};

	if (ledger_circumstances(ledger, &question, correction, &one, &error) != 0 ||
	    ledger_read_circumstances(reader, &question, other, &two, &error) != 0)
		fail_msg("%s", error.text);
	assert_int_equal(one.recipe, two.recipe);
	assert_string_equal(one.material, two.material);
	assert_string_equal(one.tool, two.tool);
	assert_memory_equal(&one.thickness_m, &two.thickness_m, sizeof(double));
	assert_memory_equal(&one.stack_c, &two.stack_c, sizeof(double));
	assert_true(one.correction == NULL || one.correction == correction);
	assert_true((one.correction == NULL) == (two.correction == NULL));
	assert_memory_equal(correction, other, sizeof correction);
	return one;
}

static void
where_nobody_told_anything_it_is_as_the_machine_says(void **state)
{
	struct circumstances known = told(0, 12, seconds(1));
	struct circumstances none = told(0, -1, seconds(1));
	(void)state;

	assert_int_equal(known.recipe, 12);
	assert_string_equal(known.material, "abs");
	assert_string_equal(known.tool, "");
	assert_true(isnan(known.thickness_m) && isnan(known.stack_c));
	assert_null(known.correction);
	assert_int_equal(none.recipe, -1);
	assert_string_equal(none.material, "");
}

static void
a_line_that_the_ledger_has_never_seen_is_one_of_which_nothing_is_told(void **state)
{
	(void)state;

	enter(CONTEXT_TOOL, "T-1", seconds(0));
	snprintf(fixture.lines[0].name, SETTINGS_NAME, "line-9");
	assert_string_equal(told(0, 31, seconds(1)).tool, "");
	assert_string_equal(told(0, 31, seconds(1)).material, "hdpe");
}

static void
recipe_tool_and_lot_are_those_in_force_at_the_time(void **state)
{
	(void)state;

	enter(CONTEXT_TOOL, "T-1", seconds(10));
	enter(CONTEXT_TOOL, "T-2", seconds(20));
	enter(CONTEXT_RECIPE, "31", seconds(10));
	enter(CONTEXT_LOT, "L-1", seconds(10));
	enter(CONTEXT_LOT, "L-2", seconds(20));
	enter(CONTEXT_LOT, "", seconds(30));
	put_lot("L-1", 0.006, 18, "");
	put_lot("L-2", 0.004, NAN, "");

	assert_string_equal(told(0, -1, seconds(9)).tool, "");
	assert_int_equal(told(0, -1, seconds(9)).recipe, -1);
	struct circumstances first =
	    told(0, -1, seconds(10)); /* from exactly then on */
	assert_string_equal(first.tool, "T-1");
	assert_int_equal(first.recipe, 31);
	assert_string_equal(first.material, "hdpe");
	assert_true(first.thickness_m == 0.006 && first.stack_c == 18);
	struct circumstances second = told(0, 12, seconds(25)); /* the machine's wins */
	assert_string_equal(second.tool, "T-2");
	assert_int_equal(second.recipe, 12);
	assert_string_equal(second.material, "abs");
	assert_true(second.thickness_m == 0.004 && isnan(second.stack_c));
	assert_true(isnan(told(0, 12, seconds(30)).thickness_m));
	assert_string_equal(told(1, -1, seconds(25)).tool, ""); /* another line's */
}

static void
of_a_lot_the_newest_row_holds_and_its_material_comes_before_the_recipes(void **state)
{
	(void)state;

	enter(CONTEXT_LOT, "L-1", seconds(0));
	assert_string_equal(told(0, 12, seconds(5)).material, "abs");
	put_lot("L-1", 0.006, 18, "abs-regrind");
	assert_string_equal(told(0, 12, seconds(5)).material, "abs-regrind");
	assert_string_equal(told(0, -1, seconds(5)).material, "abs-regrind");
	put_lot("L-1", 0.0063, NAN, "");
	struct circumstances now = told(0, 12, seconds(5));
	assert_string_equal(now.material, "abs");
	assert_true(now.thickness_m == 0.0063 && isnan(now.stack_c));
}

static void
readings_are_corrected_by_what_a_sensor_was_left_off(void **state)
{
	(void)state;

	calibrate("plc-1", "tool_2", 1.5, seconds(10));
	calibrate("plc-1", "tool_4", -0.25, seconds(10));
	assert_null(told(0, 12, seconds(9)).correction);
	assert_non_null(told(0, 12, seconds(10)).correction);
	for (int i = 0; i < FIXTURE_CHANNELS; i++)
		assert_true(correction[i] == (i == 1 ? -1.5 : i == 3 ? 0.25 : 0));
	assert_null(told(1, 12, seconds(10)).correction);
}

static void
the_newest_calibration_at_the_time_holds_and_of_two_at_once_the_later_entered(
    void **state)
{
	(void)state;

	calibrate("plc-1", "tool_2", 3, seconds(30));
	calibrate("plc-1", "tool_2", 1, seconds(10));
	calibrate("plc-1", "tool_2", 2, seconds(20));
	calibrate("plc-1", "tool_2", 2.5, seconds(20));
	static const struct {
		int at_s;
		double left;
	} cases[] = {{10, 1}, {19, 1}, {20, 2.5}, {29, 2.5}, {30, 3}, {99, 3}};
	for (size_t i = 0; i < sizeof cases / sizeof cases[0]; i++) {
		assert_non_null(told(0, 12, seconds(cases[i].at_s)).correction);
		assert_true(correction[1] == -cases[i].left);
	}
	calibrate("plc-1", "tool_2", 0, seconds(40)); /* set right */
	assert_null(told(0, 12, seconds(40)).correction);
}

static void
channels_are_told_apart_by_their_devices_and_their_line(void **state)
{
	(void)state;

	calibrate("plc-2", "tool_2", 1, seconds(0)); /* no channel of this line */
	calibrate("plc-1", "tool_99", 1, seconds(0));
	calibrate("plc-2", "tool_92", 1, seconds(0)); /* line-2's, entered for line-1 */
	assert_null(told(0, 12, seconds(1)).correction);
	assert_null(told(1, 12, seconds(1)).correction);
}

static void
what_is_entered_while_the_ledger_is_open_holds_from_the_next_question_on(void **state)
{
	struct ledger *other = ledger_open(fixture.path, NULL, &error);
	const struct ledger_calibration calibration = {.line = "line-1",
	    .device = "plc-1",
	    .channel = "tool_2",
	    .at = seconds(0),
	    .as_found = 2,
	    .as_left = 2};
	(void)state;

	assert_non_null(other);
	assert_null(told(0, 12, seconds(1)).correction);
	assert_int_equal(ledger_put_calibration(other, &calibration, &error), 0);
	assert_non_null(told(0, 12, seconds(1)).correction);
	ledger_close(other);
}

/* Asking holds nothing open: the WAL can be cut, the ledger written. */
static void
asking_keeps_nobody_from_writing(void **state)
{
	(void)state;

	calibrate("plc-1", "tool_2", 1.5, seconds(10));
	told(0, 12, seconds(20));
	write_shots(0, 1, 1);
	assert_int_equal(ledger_checkpoint(ledger, &error), 0);
	struct stat status;
	char wal[400];
	snprintf(wal, sizeof wal, "%s-wal", fixture.path);
	assert_int_equal(stat(wal, &status), 0);
	assert_int_equal(status.st_size, 0);
}

static void
a_ledger_that_cannot_be_read_is_an_error_and_nothing_is_told(void **state)
{
	struct circumstances circumstances =
	    circumstances_untold(&fixture.settings, 12);
	sqlite3 *db;
	(void)state;

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	assert_int_equal(
	    sqlite3_exec(db, "DROP TABLE calibration", NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
	const struct ledger_question question = {&fixture.settings, 0, 31, seconds(1)};
	assert_int_not_equal(
	    ledger_circumstances(ledger, &question, correction, &circumstances, &error),
	    0);
	assert_non_null(strstr(error.text, "read what was told of 'line-1'"));
	assert_int_equal(circumstances.recipe, 12);
	assert_string_equal(circumstances.material, "abs");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(where_nobody_told_anything_it_is_as_the_machine_says),
	    TEST(a_line_that_the_ledger_has_never_seen_is_one_of_which_nothing_is_told),
	    TEST(recipe_tool_and_lot_are_those_in_force_at_the_time),
	    TEST(
		of_a_lot_the_newest_row_holds_and_its_material_comes_before_the_recipes),
	    TEST(readings_are_corrected_by_what_a_sensor_was_left_off),
	    TEST(
		the_newest_calibration_at_the_time_holds_and_of_two_at_once_the_later_entered),
	    TEST(channels_are_told_apart_by_their_devices_and_their_line),
	    TEST(
		what_is_entered_while_the_ledger_is_open_holds_from_the_next_question_on),
	    TEST(asking_keeps_nobody_from_writing),
	    TEST(a_ledger_that_cannot_be_read_is_an_error_and_nothing_is_told),
	};
	return cmocka_run_group_tests_name("ledger, circumstances", tests, NULL, NULL);
}
