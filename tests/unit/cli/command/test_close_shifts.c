/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Which shifts are closed, when, and what is told of them. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <sqlite3.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_shift.h"
#include "tests/unit/cli/command/closing.h"
#include "tests/unit/cli/command/waterplant.h"

#include "tests/unit/cli/command/one_plant.h"

enum { SHOTS = 150, SHIFTS_MOST = 200 };

static struct error error;

/* The shifts that hold. */
static struct ledger_shift shifts[SHIFTS_MOST];
static int shift_count;

static int
keep_shift(void *arg, const struct ledger_shift *shift)
{
	(void)arg;
	assert_true(shift_count < SHIFTS_MOST);
	shifts[shift_count++] = *shift;
	return 0;
}

static void
read_shifts(void)
{
	struct ledger_read *read = ledger_read_open(plant.ledger_path, &error);

	assert_non_null(read);
	shift_count = 0;
	assert_int_equal(ledger_read_shifts(read, &(struct ledger_shift_filter){0},
			     keep_shift, NULL, &error),
	    0);
	ledger_read_close(read);
}

static void
file_event(const char *kind, double hours)
{
	struct wall at = {PLANT_SHIFT_NS + (int64_t)(hours * 3600) * CLOCK_SECOND_NS};

	plant_need(
	    ledger_put_event(plant.ledger, "line-3", at, kind, "told", NULL) == 0,
	    "an event");
}

static void
a_shift_is_closed_a_quarter_of_an_hour_after_its_end(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_at("2026-03-02T13:14:50Z", "--line", "line-3");
	assert_closed(&plant, 0, 0);
	close_at("2026-03-02T13:15:01Z", "--dry-run");
	assert_closed(&plant, 1, 0);
	read_shifts();
	assert_int_equal(shift_count, 0);
	close_at("2026-03-02T13:15:01Z", "--line", "line-3");
	assert_closed(&plant, 1, 0);
	read_shifts();
	assert_int_equal(shift_count, 1);
	assert_string_equal(shifts[0].shift, "early");
	assert_int_equal(shifts[0].from.ns, PLANT_SHIFT_NS);
	assert_near(shifts[0].sum[LEDGER_SHIFT_SHOTS], SHOTS, 0);
	assert_near(shifts[0].sum[LEDGER_SHIFT_OUTCOME + SHOT_COMPLETE], SHOTS - 3, 0);
	assert_near(shifts[0].sum[LEDGER_SHIFT_CYCLE_S], 180, 1);
	assert_near(shifts[0].sum[LEDGER_SHIFT_OVEN_KWH], 2.96 * (SHOTS - 3), 3);
	assert_true(isnan(shifts[0].sum[LEDGER_SHIFT_HEAT_REMOVED_KWH]));
	assert_true(isnan(shifts[0].sum[LEDGER_SHIFT_GAP_S])); /* nobody said a start */
	assert_near(shifts[0].sum[LEDGER_SHIFT_LENGTH_S], 28800, 0);
}

static void
closing_again_changes_nothing(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_at("2026-03-02T13:20:00Z", "--line", "line-3");
	assert_closed(&plant, 1, 0);
	read_shifts();
	int64_t change = shifts[0].change;
	close_at("2026-03-02T13:35:00Z", "--line", "line-3");
	assert_closed(&plant, 0, 0);
	close_at("2026-03-02T13:50:00Z", "--since", "10h");
	assert_closed(&plant, 0, 0);
	assert_near(plant_number_after(&plant, "", "same"), 1, 0);
	read_shifts();
	assert_int_equal(shift_count, 1);
	assert_int_equal(shifts[0].change, change);
	assert_int_equal(shifts[0].revision, 0);
}

/* Of the whole shift nothing is judged otherwise; within it two lots are. */
static void
a_lot_that_is_entered_late_makes_a_revision_where_it_matters(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	assert_closed(&plant, 1, 0);
	plant_context(&plant, CONTEXT_LOT, "A-1", 0);
	close_at("2026-03-02T13:35:00Z", "--color", "never");
	assert_closed(&plant, 0, 0);
	plant_context(&plant, CONTEXT_LOT, "A-2", 70);
	close_at("2026-03-02T13:50:00Z", "--dry-run");
	assert_closed(&plant, 0, 1);
	close_at("2026-03-02T13:50:00Z", "--color", "never");
	assert_closed(&plant, 0, 1);
	read_shifts();
	assert_int_equal(shift_count, 1);
	assert_int_equal(shifts[0].revision, 1);
	close_at("2026-03-02T14:05:00Z", "--color", "never");
	assert_closed(&plant, 0, 0);
}

/* The row of exit_top_c of the shift that holds. */
static struct ledger_shift_row row;
static int row_count;

static int
keep_row(void *arg, const struct ledger_shift_row *each)
{
	(void)arg;
	if (strcmp(each->characteristic, "exit_top_c") != 0)
		return 0;
	row = *each;
	row_count++;
	return 0;
}

static void
read_row(void)
{
	struct ledger_read *read = ledger_read_open(plant.ledger_path, &error);

	assert_non_null(read);
	row_count = 0;
	assert_int_equal(
	    ledger_read_shift_rows(read, shifts[0].change, keep_row, NULL, &error), 0);
	assert_int_equal(row_count, 1);
	ledger_read_close(read);
}

/* `count` complete ones whose upper face leaves the oven `by` hotter. */
static void
run_hotter(int64_t first, int64_t count, double by)
{
	for (int64_t no = first; no < first + count; no++) {
		struct shot *shot = plant_shot(&plant, no);
		shot->value[FEATURE_EXIT_TOP_C] += by;
		plant_write(&plant, shot);
	}
}

static void
assert_has_indices(bool has)
{
	for (int i = LEDGER_SHIFT_PP; i <= LEDGER_SHIFT_PPK_HIGH; i++)
		assert_int_equal(isfinite(row.figure[i]), has);
	for (int i = LEDGER_SHIFT_CP; !has && i <= LEDGER_SHIFT_CPK_HIGH; i++)
		assert_true(isnan(row.figure[i]));
	assert_near(row.figure[LEDGER_SHIFT_LOTS], 2, 0);
	assert_true(isfinite(row.figure[LEDGER_SHIFT_MEAN]));
	assert_true(isfinite(row.figure[LEDGER_SHIFT_SD]));
	assert_true(isfinite(row.figure[LEDGER_SHIFT_LOWER]));
	assert_true(isfinite(row.figure[LEDGER_SHIFT_UPPER]));
}

/* What could be quoted of the other lot would stand beside a verdict that is not of it. */
static void
where_the_index_of_a_lot_is_withheld_there_is_none(void **state)
{
	(void)state;
	plant_context(&plant, CONTEXT_LOT, "A-1", 0);
	plant_context(&plant, CONTEXT_LOT, "A-2", 61);
	run_hotter(1, 60, 0);
	run_hotter(61, 20, 15); /* too few, and beyond the limit */
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	read_shifts();
	read_row();
	assert_has_indices(false);
	assert_near(row.figure[LEDGER_SHIFT_N], 80, 0);
	assert_true(row.figure[LEDGER_SHIFT_BEYOND] >= 15);
	run_hotter(81, 60, 15);
	close_at("2026-03-02T13:35:00Z", "--color", "never");
	assert_closed(&plant, 0, 1);
	read_shifts();
	read_row();
	assert_has_indices(true);
	assert_near(row.figure[LEDGER_SHIFT_N], 140, 0);
	assert_near(row.figure[LEDGER_SHIFT_VERDICT], -1, 0);
	/* of the lot that lies beyond its limit */
	assert_true(row.figure[LEDGER_SHIFT_PPK_HIGH] < 0);
}

static void
a_shot_that_is_filed_late_makes_a_revision(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	plant_run(&plant, SHOTS + 1, 1);
	close_at("2026-03-02T13:35:00Z", "--color", "never");
	assert_closed(&plant, 0, 1);
	read_shifts();
	assert_near(shifts[0].sum[LEDGER_SHIFT_SHOTS], SHOTS + 1, 0);
}

static void
without_shots_it_is_told_only_where_somebody_logged(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	file_event("start", 0);
	file_event("end", 13);
	close_at("2026-03-03T05:20:00Z", "--color", "never");
	assert_closed(&plant, 2,
	    0); /* early, and late of which five of eight hours were logged */
	read_shifts();
	assert_string_equal(shifts[1].shift, "late");
	assert_near(shifts[1].sum[LEDGER_SHIFT_SHOTS], 0, 0);
	assert_near(shifts[0].sum[LEDGER_SHIFT_GAP_S], 0, 0);
	assert_near(shifts[1].sum[LEDGER_SHIFT_GAP_S], 3 * 3600, 0);
	assert_true(isnan(shifts[1].sum[LEDGER_SHIFT_CYCLE_S]));
}

/* What was seen of the line later, under the same beginning, shows that it was logged. */
static void
a_shift_that_is_long_over_has_no_gap_at_its_end(void **state)
{
	(void)state;
	file_event("start", 0);
	plant_run(&plant, 1, SHOTS); /* to 12:30 */
	plant_run(&plant, 200, 20);  /* from 15:00 */
	close_at("2026-03-02T21:20:00Z", "--color", "never");
	assert_closed(&plant, 2, 0);
	read_shifts();
	assert_near(shifts[0].sum[LEDGER_SHIFT_GAP_S], 0, 0);
	/* to 21:00 since the last of 15:57: nobody runs */
	assert_near(shifts[1].sum[LEDGER_SHIFT_GAP_S], 5 * 3600 + 180, 0);
}

static struct wall
hours(double hours)
{
	return (struct wall){
	    PLANT_SHIFT_NS + (int64_t)(hours * 3600) * CLOCK_SECOND_NS};
}

static void
file_logger(double started, double at)
{
	const struct ledger_logger logger = {
	    .host = "pc", .version = "1", .started = hours(started), .at = hours(at)};

	plant_need(ledger_put_logger(plant.ledger, &logger, NULL) == 0, "the logger");
}

/* Of a daemon that is up for longer than anything is kept. */
static void
an_idle_shift_is_told_when_its_beginning_is_long_past(void **state)
{
	const struct ledger_keep keep = {.shots_before = hours(24)};
	bool more = true;

	(void)state;
	file_event("start", 0);
	plant_run(&plant, 1, SHOTS);
	file_event("stop", 8);
	file_event("resume", 72);
	file_logger(0, 72);
	while (more)
		assert_int_equal(ledger_forget(plant.ledger, &keep, &more, &error), 0);
	close_at("2026-03-04T05:20:00Z", "--from", "2026-03-03T07:00");
	assert_closed(&plant, 3, 0);
	read_shifts();
	for (int i = 0; i < 3; i++)
		assert_near(shifts[i].sum[LEDGER_SHIFT_GAP_S], 0, 0);
}

/* As an earlier version left it, which forgot that too. */
static void
the_daemon_itself_tells_since_when_it_runs(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	file_logger(-1000, 36); /* then it is killed, at 17:00 */
	close_at("2026-03-04T05:20:00Z", "--from", "2026-03-03T07:00");
	assert_closed(&plant, 2, 0);
	read_shifts();
	assert_near(shifts[0].sum[LEDGER_SHIFT_GAP_S], 0, 0);
	assert_near(shifts[1].sum[LEDGER_SHIFT_GAP_S], 4 * 3600, 0);
	file_logger(25, 48); /* it began anew, and of before nobody knows */
	close_at("2026-03-04T05:20:00Z", "--from", "2026-03-03T07:00");
	assert_closed(&plant, 1, 1);
	assert_near(plant_number_after(&plant, "", "not_logged"), 1, 0);
}

static void
the_gap_is_what_nobody_logged(void **state)
{
	(void)state;
	plant_run(&plant, 1, 20); /* to 06:00 */
	file_event("start", 0.5);
	file_event("end", 2);
	file_event("start", 3);
	plant_run(&plant, 70, 11); /* to 09:00, then it is killed */
	file_event("start", 5);
	plant_run(&plant, 120, 30);
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	assert_closed(&plant, 1, 0);
	read_shifts();
	/* before the first start there are shots: nobody knows */
	assert_true(isnan(shifts[0].sum[LEDGER_SHIFT_GAP_S]));
	file_event("start", -2);
	file_event("end", -1);
	close_at("2026-03-02T13:30:00Z", "--since", "8h");
	assert_closed(&plant, 0, 1);
	read_shifts();
	/* half an hour, one, one, and from the last sign of life in fact: nobody runs now,
	 * and the last of it is the shot of 12:27 */
	assert_near(shifts[0].sum[LEDGER_SHIFT_GAP_S], 1800 + 3600 + 3600 + 33 * 60, 0);
}

static void
a_shift_whose_shots_are_forgotten_stays_as_it_is(void **state)
{
	const struct ledger_keep keep = {.shots_before = plant_time(50)};
	bool more = true;

	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	while (more)
		assert_int_equal(ledger_forget(plant.ledger, &keep, &more, &error), 0);
	plant_context(&plant, CONTEXT_LOT, "A-2", 70);
	close_at("2026-03-02T13:35:00Z", "--color", "never");
	assert_closed(&plant, 0, 0);
	assert_near(plant_number_after(&plant, "", "forgotten"), 1, 0);
	read_shifts();
	assert_near(shifts[0].sum[LEDGER_SHIFT_SHOTS], SHOTS, 0);
}

static void
other_hours_close_no_time_twice(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	assert_closed(&plant, 1, 0);
	changed_set_up(&plant, "[shift early]\nstart = 06:00",
	    "[shift early]\nstart = 06:30", SHOTS + 1);
	plant_context(
	    &plant, CONTEXT_LOT, "A-2", 70); /* it is judged by its own hours */
	close_at("2026-03-02T13:35:00Z", "--color", "never");
	assert_closed(&plant, 0, 1);
	close_at("2026-03-02T13:50:00Z", "--since", "8h");
	assert_closed(&plant, 0, 0);
	assert_near(plant_number_after(&plant, "", "other_hours"), 1, 0);
	read_shifts();
	assert_int_equal(shift_count, 1);
	assert_int_equal(shifts[0].from.ns, PLANT_SHIFT_NS);
	assert_near(shifts[0].sum[LEDGER_SHIFT_SHOTS], SHOTS, 0);
}

#define close_for_people(...)                                                    \
	plant_run_command(&plant, "close-shifts", "--ledger", plant.ledger_path, \
	    "--clock-rate", "1", "--clock-start", "2026-03-02T13:20:00Z", __VA_ARGS__)

static void
what_nobody_logged_is_one_sentence(void **state)
{
	(void)state;
	plant_run(&plant, 1, SHOTS);
	close_for_people("--from", "2025-03-01");
	assert_says(plant.out, " shifts between 2025-02-28 22:00:00 and "
			       "2026-03-02 06:00:00; no shots, and no daemon");
	const char *told = strstr(plant.out, "not logged");
	assert_non_null(told);
	assert_null(strstr(told + 1, "not logged"));
	assert_says(plant.out, "not yet: 1 shift between 2026-03-02 14:00:00 and ");
	assert_tells(plant.out, "closed");
	assert_tells_not(plant.out, "nothing was closed");
	close_for_people("--from", "2026-02-01");
	assert_says(plant.out, "nothing was closed, and nothing revised");
	assert_says(plant.out, "on file already: 1 shift between 2026-03-02 06:00:00");
	close_at("2026-03-02T13:20:00Z", "--from", "2025-03-01");
	assert_closed(&plant, 0, 0);
	assert_true(plant_number_after(&plant, "", "not_logged") > 500);
	assert_near(plant_number_after(&plant, "", "not_yet"), 1, 0);
	assert_near(plant_number_after(&plant, "", "same"), 1, 0);
	assert_tells_not(plant.out, "\"done\"");
	close_for_people("--line", "line-3");
	assert_tells(plant.out, "nothing to close");
	assert_tells_not(plant.out, "not logged");
}

static void
what_is_found_is_told_once_a_shift(void **state)
{
	(void)state;
	waterplant_run(&plant, 1, 70, 0);
	waterplant_run(&plant, 71, 40, 2); /* to 10:30 */
	plant_run_command(&plant, "reference", "freeze", "approved", "--to",
	    "2026-03-02T08:03", "--ledger", plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	close_at("2026-03-02T10:31:00Z", "--dry-run");
	assert_near(plant_number_after(&plant, "", "findings_filed"), 1, 0);
	close_at("2026-03-02T10:31:00Z", "--color", "never");
	assert_closed(&plant, 0, 0);
	assert_near(plant_number_after(&plant, "", "findings_filed"), 1, 0);
	assert_tells(plant.err, "blocked circuit, water circuit 2, recipe 12, tool ");
	assert_tells(plant.err, ": sure, from shot ");
	close_at("2026-03-02T10:46:00Z", "--color", "never");
	assert_near(plant_number_after(&plant, "", "findings_filed"), 0, 0);
	waterplant_run(&plant, 111, 90, 2); /* into the next shift */
	close_at("2026-03-02T15:15:01Z", "--color", "never");
	assert_closed(&plant, 1, 0);
	assert_near(plant_number_after(&plant, "", "findings_filed"), 1, 0);
	assert_tells(plant.err, "found on line-3 in shift late: blocked circuit");
	read_shifts();
	assert_true(shifts[0].sum[LEDGER_SHIFT_FINDINGS] >= 1);
}

static void
a_past_time_is_needed_for_what_is_closed_again(void **state)
{
	(void)state;
	plant_run(&plant, 1, 3);
	close_at("2026-03-02T13:20:00Z", "--to", "2026-03-02");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(plant.err, "say from when on");
	close_at("2026-03-02T13:20:00Z", "--from", "2099-01-01");
	assert_int_equal(plant.code, COMMAND_USAGE);
	assert_tells(
	    plant.err, "'--from' lies in the future: no shift has ended after it\n");
}

/* The demo's set-up with this ledger. */
static void
close_with_config(const char *ledger)
{
	char path[320], *text;
	size_t length;
	FILE *out = open_memstream(&text, &length);

	assert_non_null(out);
	stored_copy_demo(out);
	assert_int_equal(fclose(out), 0);
	char *at = strstr(text, "path = ledger.db");
	assert_non_null(at);
	snprintf(path, sizeof path, "%s/evensoak.ini", plant.folder);
	out = fopen(path, "w");
	assert_non_null(out);
	fprintf(out, "%.*spath = %s\n%s", (int)(at - text), text, ledger,
	    strchr(at, '\n') + 1);
	assert_int_equal(fclose(out), 0);
	free(text);
	plant_run_command(&plant, "close-shifts", "--config", path);
	unlink(path);
}

static void
set_version(const char *version)
{
	char pragma[64];
	sqlite3 *db;

	snprintf(pragma, sizeof pragma, "PRAGMA user_version = %s", version);
	assert_int_equal(sqlite3_open(plant.ledger_path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, pragma, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
}

/* The timer begins with the computer, the daemon when somebody has configured it. */
static void
a_ledger_that_the_daemon_has_still_to_make_is_waited_for(void **state)
{
	(void)state;
	plant_run(&plant, 1, 3);
	close_with_config("/nonexistent/ledger.db");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.err, "nothing to do yet: no ledger at '/nonexistent/");
	set_version("5");
	close_with_config(plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.err, "nothing to do yet: ledger ");
	close_at("2026-03-02T13:20:00Z", "--color", "never");
	assert_int_equal(plant.code, COMMAND_CANNOT); /* one that is named */
	set_version("99");
	close_with_config(plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_CANNOT);
	assert_says(plant.err, "install the newer program");
	set_version("6");
	close_with_config(plant.ledger_path);
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_tells_not(plant.err, "nothing to do");
	plant_run_command(&plant, "close-shifts", "--config", "conf/office.ini");
	assert_int_equal(plant.code, COMMAND_DONE);
	assert_says(plant.err, "nothing to do yet: 'conf/office.ini' has no ledger");
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(a_shift_is_closed_a_quarter_of_an_hour_after_its_end),
	    with_plant(closing_again_changes_nothing),
	    with_plant(a_lot_that_is_entered_late_makes_a_revision_where_it_matters),
	    with_plant(where_the_index_of_a_lot_is_withheld_there_is_none),
	    with_plant(a_shot_that_is_filed_late_makes_a_revision),
	    with_plant(without_shots_it_is_told_only_where_somebody_logged),
	    with_plant(a_shift_that_is_long_over_has_no_gap_at_its_end),
	    with_plant(an_idle_shift_is_told_when_its_beginning_is_long_past),
	    with_plant(the_daemon_itself_tells_since_when_it_runs),
	    with_plant(the_gap_is_what_nobody_logged),
	    with_plant(a_shift_whose_shots_are_forgotten_stays_as_it_is),
	    with_plant(other_hours_close_no_time_twice),
	    with_plant(what_nobody_logged_is_one_sentence),
	    with_plant(what_is_found_is_told_once_a_shift),
	    with_plant(a_ledger_that_the_daemon_has_still_to_make_is_waited_for),
	    with_plant(a_past_time_is_needed_for_what_is_closed_again),
	};
	return cmocka_run_group_tests_name("close-shifts", tests, NULL, NULL);
}
