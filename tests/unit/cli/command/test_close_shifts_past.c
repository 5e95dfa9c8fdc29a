/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What becomes of shifts whose shots are forgotten, whose hours or limits are changed, and of
 * many corrections. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <sqlite3.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_shift.h"
#include "tests/unit/cli/command/closing.h"

#include "tests/unit/cli/command/one_plant.h"

enum { SHOTS = 150, LATE = 165 }; /* the late shift begins with shot 160 */

/* What SQL gives, behind the back of all. */
static int64_t
ask(const char *sql)
{
	sqlite3_stmt *statement;
	sqlite3 *db;

	assert_int_equal(sqlite3_open(plant.ledger_path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
	int64_t value = sqlite3_step(statement) == SQLITE_ROW
	                    ? sqlite3_column_int64(statement, 0)
	                    : -1;
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return value;
}

/* --- what is forgotten ------------------------------------------------------------------- */

/* "24 shots" of 48 would be no figure of the shift. */
static void
what_is_left_of_a_shift_is_not_filed_as_all_of_it(void **state)
{
	const struct ledger_keep keep = {.shots_before = plant_time(50)};
	bool more = true;
	struct error error;

	(void)state;
	changed_set_up(&plant, "keep_traces_days = 30 ",
	    "keep_traces_days = 0\nkeep_shots_days = 2 ", 0);
	plant_run(&plant, 1, SHOTS);
	plant_run(&plant, LATE, 10);
	while (more)
		assert_int_equal(ledger_forget(plant.ledger, &keep, &more, &error), 0);
	close_at("2026-03-04T07:31:00Z", "--color", "never");
	assert_closed(&plant, 1, 0); /* that of the late shift, which is kept */
	assert_near(plant_number_after(&plant, "", "forgotten"), 1, 0);
	assert_int_equal(ask("SELECT shots FROM shift_total"), 10);
	close_at("2026-03-04T07:31:00Z", "--since", "30d");
	assert_closed(&plant, 0, 0);
	assert_near(plant_number_after(&plant, "", "forgotten"), 1, 0);
}

/* --- corrections ------------------------------------------------------------------------- */

/* More changes of the late shift's shots than a piece has. */
static void
correct_much(void)
{
	char lot[16];

	plant_context(&plant, CONTEXT_LOT, "A-1", 70); /* within the early shift */
	for (int i = 0; i < 60; i++) {
		snprintf(lot, sizeof lot, "B-%d", i);
		plant_context(&plant, CONTEXT_LOT, lot, 200);
	}
}

static void
a_run_that_is_cut_off_goes_on_behind_what_it_has_done(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	plant_run(&plant, LATE, 130);
	plant_context(&plant, CONTEXT_LOT, "A-0", LATE);
	close_at("2026-03-02T21:20:00Z", "--color", "never");
	assert_closed(&plant, 2, 0);
	int64_t before = ask("SELECT change FROM shift_closing");
	correct_much();
	ask("CREATE TRIGGER broken BEFORE INSERT ON shift_total WHEN new.shift = 'late'"
	    " BEGIN SELECT raise(ABORT, 'cut off'); END");
	close_at("2026-03-02T21:35:00Z", "--color", "never");
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_tells(plant.err, "cut off");
	int64_t after = ask("SELECT change FROM shift_closing");
	assert_true(after > before);
	assert_true(after < ask("SELECT max(change) FROM shot"));
	ask("DROP TRIGGER broken");
	close_at("2026-03-02T21:50:00Z", "--color", "never");
	assert_closed(&plant, 0, 1);
	assert_int_equal(ask("SELECT count(*) FROM shift_total"), 4);
	assert_int_equal(
	    ask("SELECT change = (SELECT max(change) FROM shot) FROM shift_closing"),
	    1);
}

/* The service is ended by force after ten minutes. */
static void
many_corrections_are_left_for_the_next_run(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	plant_run(&plant, LATE, 130);
	plant_context(&plant, CONTEXT_LOT, "A-0", LATE);
	close_at("2026-03-02T21:20:00Z", "--color", "never");
	assert_closed(&plant, 2, 0);
	correct_much();
	/* some tenths of a second, which the clock makes many minutes of */
	ask("CREATE TRIGGER slow BEFORE INSERT ON shift_total BEGIN SELECT"
	    " (WITH RECURSIVE c(n) AS (SELECT 1 UNION ALL SELECT n + 1 FROM c"
	    " WHERE n < 1500000) SELECT count(*) FROM c); END");
	plant_run_command(&plant, "close-shifts", "--ledger", plant.ledger_path,
	    "--clock-rate", "10000", "--clock-start", "2026-03-02T21:35:00Z");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(
	    plant.out, "not all corrections are looked at: the next run goes on");
	assert_int_equal(ask("SELECT count(*) FROM shift_total WHERE revision > 0"), 1);
	ask("DROP TRIGGER slow");
	close_at("2026-03-02T21:50:00Z", "--color", "never");
	assert_closed(&plant, 0, 1);
	assert_tells(plant.out, "\"unfinished\": false");
}

static void
what_is_due_does_not_wait_for_corrections(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	plant_context(&plant, CONTEXT_LOT, "A-1", 70);
	plant_run(&plant, LATE, 100);
	ask("CREATE TRIGGER broken BEFORE INSERT ON shift_total WHEN new.revision > 0"
	    " BEGIN SELECT raise(ABORT, 'cut off'); END");
	close_at("2026-03-02T21:20:00Z", "--color", "never");
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_int_equal(
	    ask("SELECT count(*) FROM shift_total WHERE shift = 'late'"), 1);
	ask("DROP TRIGGER broken");
	close_at("2026-03-02T21:35:00Z", "--color", "never");
	assert_closed(&plant, 0, 1);
}

/* --- the set-up that is in force --------------------------------------------------------- */

/* Runs it with a file in which `find` is replaced, and that names the ledger. */
static void
close_with_file(const char *find, const char *replace)
{
	char path[320], *text, *at;
	size_t length;
	FILE *out = open_memstream(&text, &length);

	stored_copy_demo(out);
	assert_int_equal(fclose(out), 0);
	snprintf(path, sizeof path, "%s/edited.ini", plant.folder);
	out = fopen(path, "w");
	assert_non_null(out);
	at = strstr(text, find);
	assert_non_null(at);
	fprintf(out, "%.*s%s%s", (int)(at - text), text, replace, at + strlen(find));
	fclose(out);
	free(text);
	plant_run_command(&plant, "close-shifts", "--format", "json", "--clock-rate",
	    "1", "--clock-start", "2026-03-02T13:20:00Z", "--config", path);
	unlink(path);
}

static void
it_is_judged_by_the_set_up_in_force(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_with_file("upper = 180 s", "upper = 121 s");
	assert_closed(&plant, 1, 0);
	assert_int_equal(ask("SELECT count(*) FROM shift_total t JOIN setup s"
			     " ON s.hash = t.setup"),
	    1);
	assert_int_equal(ask("SELECT upper FROM shift_summary"
			     " WHERE characteristic = 'sag_s'"),
	    180);
}

/* Its ledger.db is beside it. */
static void
a_file_that_is_being_edited_does_not_stop_it(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_with_file("[limits sag_s]", "[limits sag_");
	assert_closed(&plant, 1, 0);
	assert_says(plant.err, "; the set-up in force is used");
	close_with_file("[ledger]", "; gone");
	assert_int_equal(plant.code, COMMAND_CANNOT);
}

static void
a_ledger_without_a_set_up_has_nothing_to_do_yet(void **state)
{
	(void)state;
	ask("DELETE FROM setup");
	close_with_file("upper = 180 s", "upper = 181 s");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.err, "nothing to do yet: ");
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	assert_int_equal(plant.code, COMMAND_CANNOT);
}

/* --- other hours ------------------------------------------------------------------------- */

/* Of the evening before, when there were no other shifts than early ones. */
static void
hours_close_nothing_that_ended_before_they_held(void **state)
{
	(void)state;
	changed_set_up(&plant,
	    "[shift late]\nstart = 14:00\nend = 22:00\n\n"
	    "[shift night]\nstart = 22:00\nend = 06:00\n",
	    "", 0);
	plant_run(&plant, 1, SHOTS);
	plant_run(&plant, LATE, 130); /* to 21:00 in Berlin */
	close_at("2026-03-02T21:20:00Z", "--color", "never");
	assert_closed(&plant, 1, 0);
	changed_set_up(&plant, "limits sag_s", "limits sag_s", 420); /* 03:00 */
	plant_run(&plant, 430, 30);
	close_at("2026-03-03T05:20:00Z", "--color", "never");
	assert_closed(&plant, 1, 0); /* the night in which they came */
	assert_near(plant_number_after(&plant, "", "other_hours"), 1, 0);
	assert_int_equal(
	    ask("SELECT count(*) FROM shift_total WHERE shift = 'late'"), 0);
	close_at("2026-03-03T05:20:00Z", "--since", "3d");
	assert_closed(&plant, 1, 0); /* who asks for it has it */
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(what_is_left_of_a_shift_is_not_filed_as_all_of_it),
	    with_plant(a_run_that_is_cut_off_goes_on_behind_what_it_has_done),
	    with_plant(many_corrections_are_left_for_the_next_run),
	    with_plant(what_is_due_does_not_wait_for_corrections),
	    with_plant(it_is_judged_by_the_set_up_in_force),
	    with_plant(a_file_that_is_being_edited_does_not_stop_it),
	    with_plant(a_ledger_without_a_set_up_has_nothing_to_do_yet),
	    with_plant(hours_close_nothing_that_ended_before_they_held),
	};
	return cmocka_run_group_tests_name(
	    "close-shifts of the past", tests, NULL, NULL);
}
