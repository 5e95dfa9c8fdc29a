/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How a ledger of every earlier version becomes one of this version. */
#include "daemon/ledger/schema.h"

#include "tests/unit/daemon/ledger/plain_file.h"

/* A file as a program of that version makes it. */
static sqlite3 *
open_version(int version)
{
	struct schema_steps steps = {schema_steps.list, 0};
	sqlite3 *db = open_plain();

	while (steps.count < schema_steps.count &&
	       schema_steps.list[steps.count].version <= version)
		steps.count++;
	run(db, "PRAGMA page_size = 2048; PRAGMA journal_mode = WAL");
	if (schema_upgrade(db, fixture.path, &steps, &error) != 0)
		fail_msg("%s", error.text);
	assert_int_equal(integer(db, "PRAGMA user_version"), version);
	return db;
}

/* What a program of version 1 left: its steps, its columns of features, its rows. */
static void
make_version_1(void)
{
	sqlite3 *db = open_version(1);

	run(db,
	    "ALTER TABLE shot ADD COLUMN heat_s REAL;"
	    "ALTER TABLE shot ADD COLUMN stack_c REAL;"
	    "INSERT INTO setup VALUES (1, 10, '0.1.0', 'pond-works', '/etc/x.ini',"
	    " '00000000000000aa', 'whole text');"
	    "INSERT INTO line VALUES (1, 'line-1'), (2, 'line-2');"
	    "INSERT INTO recipe VALUES (1, 12, 'pond-basin', 'abs');"
	    "INSERT INTO channel VALUES"
	    " (3, 1, 'plc-1', 'zone_top_1', 'zone_top', 1, '1'),"
	    " (7, 1, 'plc-1', 'tool_2', 'tool', 2, 'C');"
	    "INSERT INTO feature VALUES ('heat_s', 1, 's', 'time in the oven', 1);");
	run(db,
	    "INSERT INTO shot (id, change, setup, line, shot_no, filed_at,"
	    " form_start_at, closed_at, outcome, flags, reason, recipe_read, recipe,"
	    " tool, lot, material, cycle_count, uncertainty_s, heat_s, stack_c)"
	    " VALUES (1, 1, 1, 1, 1, 2000, 2000, 3000, 'complete', 0, NULL, 12, 12,"
	    " 'T-1', 'L-1', 'abs', 100, 0.25, 143.5, 21),"
	    " (2, 4, 1, 1, 2, 4000, 4000, 5000, 'timer_release', 4, 'no sag', 12, 12,"
	    " 'T-1', 'L-1', 'abs', 101, 0.25, 230, NULL);"
	    "INSERT INTO absent VALUES (2, 'stack_c', 'sensor_fault');"
	    "INSERT INTO shot_channel VALUES (1048576 + 3, 0, 1, 2, 3, 4, 5, NULL),"
	    " (1048576 + 7, 0, 1, 2, 3, 4, 5, NULL),"
	    " (2 * 1048576 + 3, NULL, NULL, NULL, NULL, NULL, 0.5, 'stale');"
	    "INSERT INTO context VALUES (1, 1, 'lot', 'L-1', 1000, 1000);"
	    "INSERT INTO event VALUES (3, 1, 2500, 'start', 'evensoakd started');"
	    "INSERT INTO delivery VALUES ('plant', 'shot', 1, 3000);"
	    "INSERT INTO health VALUES (0, 'daemon', 'ok', 'runs', 1, 2, 3, 4);");
	sqlite3_close(db);
}

struct seen {
	int shots, channels;
	struct ledger_shot shot[2];
};

static int
see_shot(void *arg, const struct ledger_shot *shot)
{
	struct seen *seen = arg;

	assert_true(seen->shots < 2);
	seen->shot[seen->shots++] = *shot;
	return 0;
}

static int
see_channel(void *arg, const struct ledger_channel *channel)
{
	struct seen *seen = arg;
	static const char *const names[] = {"zone_top_1", "tool_2"};

	assert_true(seen->channels < 2);
	assert_string_equal(channel->channel, names[seen->channels++]);
	return 0;
}

static void
assert_version_1_is_there(void)
{
	static struct seen seen;
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);

	assert_non_null(reader);
	seen = (struct seen){0};
	assert_int_equal(ledger_read_shots(reader, &(struct ledger_filter){.limit = 2},
			     true, see_shot, &seen, &error),
	    0);
	assert_int_equal(
	    ledger_read_channels(reader, 1, see_channel, &seen, &error), 0);
	assert_int_equal(seen.shots, 2);
	assert_int_equal(seen.channels, 2);
	assert_true(seen.shot[0].value[FEATURE_HEAT_S] == 143.5);
	assert_string_equal(seen.shot[0].lot, "L-1");
	assert_string_equal(seen.shot[1].reason, "no sag");
	assert_int_equal(seen.shot[1].absent[FEATURE_STACK_C], ABSENT_SENSOR_FAULT);
	for (int i = 0; i < 2; i++) {
		assert_string_equal(seen.shot[i].side, "");
		assert_true(seen.shot[i].set_points == 0);
	}
	ledger_read_close(reader);
}

static void
a_ledger_of_version_1_keeps_all_it_holds_and_is_written_on(void **state)
{
	struct ledger_delivered delivered;
	int64_t setup;
	(void)state;

	make_version_1();
	assert_null(ledger_read_open(fixture.path, &error));
	assert_non_null(strstr(error.text, "older version"));
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL)
		fail_msg("%s", error.text);
	assert_version_1_is_there();
	assert_int_equal(
	    ledger_delivered(ledger, "plant", "shot", &delivered, &error), 0);
	assert_int_equal(delivered.change, 0);

	fixture.trace_bytes = 5000;
	assert_int_equal(ledger_put_setup(ledger, &fixture.settings, fixture_time(0),
			     &setup, &error),
	    0);
	assert_int_equal(setup, 2);
	assert_int_equal(fixture_write(&fixture, ledger, 0, 3, 4, &error), 0);
	ledger_close(ledger);
	assert_version_1_is_there();

	sqlite3 *db = open_plain();
	assert_int_equal(integer(db, "PRAGMA user_version"), SCHEMA_VERSION);
	assert_int_equal(integer(db, "SELECT count(*) FROM shot"), 4);
	assert_int_equal(integer(db, "SELECT max(change) FROM shot"), 6);
	assert_int_equal(integer(db, "SELECT count(*) FROM trace"), 2);
	/* The same channel of the same meaning is the one that was there. */
	assert_int_equal(
	    integer(db, "SELECT id FROM channel WHERE name = 'tool_2'"), 7);
	assert_int_equal(integer(db, "SELECT count(*) FROM pragma_integrity_check"
				     " WHERE integrity_check = 'ok'"),
	    1);
	assert_int_equal(
	    integer(db, "SELECT count(*) FROM pragma_foreign_key_check"), 0);
	sqlite3_close(db);
}

static void
a_migration_that_finds_no_room_leaves_version_1(void **state)
{
	sqlite3 *db;
	(void)state;

	make_version_1();
	db = open_plain();
	int64_t pages = integer(db, "PRAGMA page_count");
	char sql[64];
	snprintf(sql, sizeof sql, "PRAGMA max_page_count = %lld", (long long)pages);
	run(db, sql);
	assert_int_equal(schema_upgrade(db, "x", &schema_steps, &error), ERROR_FULL);
	assert_non_null(strstr(error.text, "full"));
	assert_int_equal(integer(db, "PRAGMA user_version"), 1);
	assert_int_equal(integer(db, "SELECT count(*) FROM channel"), 2);
	assert_int_equal(integer(db, "SELECT count(*) FROM pragma_table_info('shot')"
				     " WHERE name = 'side'"),
	    0);
	sqlite3_close(db);
	make_ledger();
	assert_version_1_is_there();
}

/* What a program of version 2 left, which had taken over a ledger of version 1. */
static void
make_version_2(void)
{
	make_version_1();
	sqlite3 *db = open_version(2);
	run(db, "UPDATE shot SET side = 'left', set_points = '00000000000000ff' WHERE "
		"id = 2;"
		"INSERT INTO trace VALUES (2, 1, x'0102030405');"
		"INSERT INTO in_flight VALUES (1, 6000, x'07');"
		"INSERT INTO lot VALUES (1, 'L-1', 0.00635, 21.5, 4000);"
		"INSERT INTO earlier VALUES (2, 2, 'heat_s', 1, 5500, 231, NULL),"
		" (2, 2, 'outcome', 1, 5500, NULL, 'complete');");
	sqlite3_close(db);
}

static int
see_earlier(void *arg, const struct ledger_earlier *earlier)
{
	int *count = arg;

	if ((*count)++ == 0)
		assert_true(earlier->value == 231);
	else
		assert_string_equal(earlier->text, "complete");
	return 0;
}

static void
assert_version_2_is_there(void)
{
	struct seen seen = {0};
	struct ledger_lot lot;
	int count = 0;
	size_t bytes = 0;
	void *trace = NULL;
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);

	assert_non_null(reader);
	assert_int_equal(ledger_read_shots(reader, &(struct ledger_filter){.limit = 2},
			     true, see_shot, &seen, &error),
	    0);
	assert_string_equal(seen.shot[1].side, "left");
	assert_true(seen.shot[1].set_points == 255);
	assert_string_equal(seen.shot[1].properties, "");
	assert_true(seen.shot[1].value[FEATURE_HEAT_S] == 230);
	assert_int_equal(ledger_read_trace(reader, 2, &trace, &bytes, &error), 0);
	assert_int_equal(bytes, 5);
	free(trace);
	assert_int_equal(ledger_read_lot(reader, "L-1", &lot, &error), 0);
	assert_true(lot.thickness_m == 0.00635 && lot.stack_c == 21.5);
	assert_string_equal(lot.material, "");
	assert_int_equal(
	    ledger_read_earlier(reader, 2, see_earlier, &count, &error), 0);
	assert_int_equal(count, 2);
	ledger_read_close(reader);
}

static void
a_ledger_of_version_2_keeps_all_it_holds_and_is_written_on(void **state)
{
	const struct ledger_calibration calibration = {.line = "line-1",
	    .device = "plc-1",
	    .channel = "tool_2",
	    .at = fixture_time(0),
	    .as_found = NAN,
	    .as_left = 1};
	const struct ledger_lot lot = {
	    .name = "L-2", .thickness_m = NAN, .stack_c = NAN, .material = "hdpe"};
	int64_t setup;
	(void)state;

	make_version_2();
	assert_null(ledger_read_open(fixture.path, &error));
	assert_non_null(strstr(error.text, "older version"));
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL)
		fail_msg("%s", error.text);
	assert_version_2_is_there();
	assert_int_equal(ledger_put_setup(ledger, &fixture.settings, fixture_time(0),
			     &setup, &error),
	    0);
	assert_int_equal(fixture_write(&fixture, ledger, 0, 3, 4, &error), 0);
	assert_int_equal(ledger_put_calibration(ledger, &calibration, &error), 0);
	assert_int_equal(ledger_put_lot(ledger, &lot, NULL, &error), 0);
	ledger_close(ledger);
	assert_version_2_is_there();

	sqlite3 *db = open_plain();
	assert_int_equal(integer(db, "PRAGMA user_version"), SCHEMA_VERSION);
	assert_int_equal(integer(db, "SELECT count(*) FROM shot"), 4);
	assert_int_equal(
	    integer(db, "SELECT count(*) FROM shot WHERE properties IS NOT NULL"), 2);
	assert_int_equal(integer(db, "SELECT count(*) FROM pragma_integrity_check"
				     " WHERE integrity_check = 'ok'"),
	    1);
	assert_int_equal(
	    integer(db, "SELECT count(*) FROM pragma_foreign_key_check"), 0);
	sqlite3_close(db);
}

/* What a program of version 3 left, which had taken over the ledgers before it. */
static void
make_version_3(void)
{
	make_version_2();
	sqlite3 *db = open_version(3);
	run(db,
	    "UPDATE shot SET properties = 'hdpe 1 00ff00ff' WHERE id = 1;"
	    "INSERT INTO lot VALUES (2, 'L-2', NULL, NULL, 4500, 'hdpe');"
	    "INSERT INTO calibration VALUES (1, 1, 'plc-1', 'tool_2', 3000, 1.5, 0.5,"
	    " NULL, 'a bath', 'kb', 3100);"
	    "INSERT INTO reference_run VALUES (1, 'autumn', 1, NULL, '12', 'T-1',"
	    " 2000, 4000, 5000, 1, NULL, NULL);"
	    "ALTER TABLE reference_shot ADD COLUMN heat_s REAL;"
	    "INSERT INTO reference_shot VALUES (1, 1, 1, 2000, 'L-1', 143.5);");
	sqlite3_close(db);
}

static int
see_reference(void *arg, const struct ledger_reference *reference)
{
	int *count = arg;

	assert_string_equal(reference->name, "autumn");
	++*count;
	return 0;
}

static int
see_calibration(void *arg, const struct ledger_calibration *calibration)
{
	int *count = arg;

	assert_string_equal(calibration->channel, "tool_2");
	assert_true(calibration->as_left == 0.5);
	++*count;
	return 0;
}

static int
see_health(void *arg, const struct ledger_health *health)
{
	int *count = arg;

	assert_string_equal(health->subject, "daemon");
	++*count;
	return 0;
}

static void
assert_version_3_is_there(void)
{
	static struct seen seen;
	int references = 0, calibrations = 0;
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);

	assert_non_null(reader);
	seen = (struct seen){0};
	assert_int_equal(ledger_read_shots(reader, &(struct ledger_filter){.limit = 2},
			     true, see_shot, &seen, &error),
	    0);
	assert_string_equal(seen.shot[0].properties, "hdpe 1 00ff00ff");
	assert_int_equal(
	    ledger_read_references(reader, see_reference, &references, &error), 0);
	assert_int_equal(references, 1);
	assert_int_equal(ledger_read_calibrations(
			     reader, "line-1", see_calibration, &calibrations, &error),
	    0);
	assert_int_equal(calibrations, 1);
	ledger_read_close(reader);
}

static void
a_ledger_of_version_3_keeps_all_it_holds_and_counts_devices(void **state)
{
	const struct ledger_device device = {.device = "plc-1",
	    .line = "line-1",
	    .bus = "10.0.0.5:502",
	    .state = "ok",
	    .counts = {[LEDGER_COUNT_GOOD] = 77}};
	const struct ledger_health row = {
	    .subject = "daemon", .state = "ok", .text = ""};
	int healths = 0;
	(void)state;

	make_version_3();
	assert_null(ledger_read_open(fixture.path, &error));
	assert_non_null(strstr(error.text, "older version"));
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL)
		fail_msg("%s", error.text);
	assert_version_2_is_there();
	assert_version_3_is_there();
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);
	assert_non_null(reader);
	assert_int_equal(ledger_read_health(reader, see_health, &healths, &error), 0);
	assert_int_equal(healths, 1); /* that of the program before */
	ledger_read_close(reader);
	assert_int_equal(ledger_put_health(ledger, &row, 1, &device, 1, &error), 0);
	ledger_close(ledger);
	assert_version_3_is_there();

	sqlite3 *db = open_plain();
	assert_int_equal(integer(db, "PRAGMA user_version"), SCHEMA_VERSION);
	assert_int_equal(integer(db, "SELECT good FROM device"), 77);
	assert_int_equal(integer(db, "SELECT count(*) FROM pragma_integrity_check"
				     " WHERE integrity_check = 'ok'"),
	    1);
	assert_int_equal(
	    integer(db, "SELECT count(*) FROM pragma_foreign_key_check"), 0);
	sqlite3_close(db);
}

/* What a program of version 4 left, which had taken over the ledgers before it. */
static void
make_version_4(void)
{
	make_version_3();
	sqlite3 *db = open_version(4);
	run(db, "UPDATE health SET run = 77;"
		/* labelled anew: its change number is not that of its filing */
		"UPDATE shot SET change = 5, tool = 'T-2' WHERE id = 1;"
		"UPDATE delivery SET change = 5;"
		"INSERT INTO delivery VALUES ('plant', 'event', 3, 3000),"
		" ('head', 'shot', 4, 3000);"
		"INSERT INTO refusal VALUES ('plant', 4, 'shot x=1 1', 'no', 3000);");
	sqlite3_close(db);
}

static int
see_superseded(void *arg, const struct ledger_superseded *superseded)
{
	int *count = arg;

	assert_int_equal(superseded->revision, 0);
	assert_string_equal(superseded->tool, "T-2");
	assert_string_equal(superseded->recipe, "12");
	++*count;
	return 0;
}

static void
relabel_an_old_shot(struct ledger *ledger)
{
	const struct ledger_entry entry = {
	    "line-1", CONTEXT_TOOL, "T-3", {1500}, {9000}};
	struct seen seen = {0};
	int64_t relabelled = 0;
	int superseded = 0;

	assert_int_equal(ledger_put_context(ledger, &entry, &relabelled, &error), 0);
	assert_int_equal(relabelled, 2);
	struct ledger_read *reader = ledger_read_open(fixture.path, &error);
	assert_non_null(reader);
	assert_int_equal(ledger_read_shots(reader, &(struct ledger_filter){0}, true,
			     see_shot, &seen, &error),
	    0);
	for (int i = 0; i < 2; i++) {
		assert_int_equal(seen.shot[i].revision, 1);
		assert_string_equal(seen.shot[i].tool, "T-3");
	}
	assert_int_equal(
	    ledger_read_superseded(reader, 1, see_superseded, &superseded, &error), 0);
	assert_int_equal(superseded, 1);
	ledger_read_close(reader);
}

static void
a_ledger_of_version_4_keeps_all_it_holds_and_gets_revisions(void **state)
{
	struct ledger_delivered delivered = {0};
	const struct ledger_reading reading = {0, "line-1", {9000}, "x", 1};
	const struct ledger_logger logger = {.host = "line-pc"};
	(void)state;

	make_version_4();
	assert_null(ledger_read_open(fixture.path, &error));
	assert_non_null(strstr(error.text, "older version"));
	struct ledger *ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL)
		fail_msg("%s", error.text);
	assert_int_equal(
	    ledger_delivered(ledger, "plant", "shot", &delivered, &error), 0);
	/* all of it is to go out again, in the form with revisions */
	assert_int_equal(delivered.change, 0);
	assert_int_equal(delivered.turn, 1);
	assert_int_equal(delivered.lost, 0);
	relabel_an_old_shot(ledger);
	assert_int_equal(
	    ledger_put_reading(ledger, "plant", &reading, (struct wall){8000}, &error),
	    0);
	assert_int_equal(ledger_put_logger(ledger, &logger, &error), 0);
	delivered.change = 6;
	assert_int_equal(
	    ledger_set_delivered(ledger, "plant", "shot", &delivered, &error), 0);
	ledger_close(ledger);

	sqlite3 *db = open_plain();
	assert_int_equal(integer(db, "PRAGMA user_version"), SCHEMA_VERSION);
	assert_int_equal(integer(db, "SELECT run FROM health"), 77);
	assert_int_equal(integer(db, "SELECT change FROM delivery WHERE"
				     " destination = 'plant' AND stream = 'shot'"),
	    6);
	assert_int_equal(
	    integer(db, "SELECT count(*) FROM delivery WHERE change = 0 AND turn = 1"),
	    2);
	assert_int_equal(integer(db, "SELECT count(*) FROM refusal"), 0);
	assert_int_equal(integer(db, "SELECT count(*) FROM reading"), 1);
	assert_int_equal(integer(db, "SELECT count(*) FROM pragma_integrity_check"
				     " WHERE integrity_check = 'ok'"),
	    1);
	assert_int_equal(
	    integer(db, "SELECT count(*) FROM pragma_foreign_key_check"), 0);
	sqlite3_close(db);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_ledger_of_version_1_keeps_all_it_holds_and_is_written_on),
	    TEST(a_migration_that_finds_no_room_leaves_version_1),
	    TEST(a_ledger_of_version_2_keeps_all_it_holds_and_is_written_on),
	    TEST(a_ledger_of_version_3_keeps_all_it_holds_and_counts_devices),
	    TEST(a_ledger_of_version_4_keeps_all_it_holds_and_gets_revisions),
	};
	return cmocka_run_group_tests_name("schema, migration", tests, NULL, NULL);
}
