/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether a damaged ledger is found to be one, and a whole one is not. */
#include "daemon/ledger/ledger_check.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

#include <fcntl.h>

#include "daemon/ledger/ledger_inside.h"

enum { PAGE = 2048 };

static struct ledger_checked checked;
static char findings[4000];

static void
take(void *arg, const char *finding)
{
	size_t used = strlen(findings);

	(void)arg;
	assert_true(strlen(finding) > 5);
	assert_null(strstr(finding, "*** in database")); /* a heading is none */
	assert_null(strchr(finding, '\n'));
	snprintf(findings + used, sizeof findings - used, "%s\n", finding);
}

static int64_t
check_it(bool full)
{
	findings[0] = '\0';
	if (ledger_check(fixture.path,
		&(struct ledger_check){.full = full, .take = take}, &checked,
		&error) != 0)
		fail_msg("%s", error.text);
	assert_false(checked.ended);
	if (checked.findings > 0)
		assert_true(
		    strncmp(findings, checked.first, strlen(checked.first)) == 0);
	return checked.findings;
}

static void
run_sql(const char *sql)
{
	if (database_run(ledger->db, sql, &error) != 0)
		fail_msg("%s", error.text);
}

static void
wipe(const char *what, int number)
{
	static const unsigned char zeros[PAGE];
	char sql[200];

	snprintf(sql, sizeof sql,
	    "SELECT pageno FROM dbstat WHERE name = '%s' AND pagetype = 'leaf'"
	    " ORDER BY path LIMIT 1 OFFSET %d",
	    what, number);
	int64_t page = sql_integer(sql);
	assert_true(page > 1);
	ledger_read_close(reader);
	ledger_close(ledger);
	reader = NULL;
	ledger = NULL;
	int fd = open(fixture.path, O_WRONLY);
	assert_true(fd >= 0);
	assert_int_equal(pwrite(fd, zeros, PAGE, (page - 1) * PAGE), PAGE);
	close(fd);
}

static void
a_ledger_that_is_being_written_is_whole(void **state)
{
	(void)state;
	assert_int_equal(check_it(false), 0);
	fixture.trace_bytes = 3000;
	write_shots(0, 1, 20);
	assert_int_equal(check_it(false), 0);
	assert_int_equal(check_it(true), 0);
	write_shots(0, 100, 110); /* a hole in the numbers is none in the ledger */
	assert_int_equal(check_it(true), 0);
}

static void
a_damaged_page_is_found_by_either_check(void **state)
{
	(void)state;
	write_shots(0, 1, 40);
	wipe("shot_channel", 3);
	assert_true(check_it(false) >= 1);
	assert_true(check_it(true) >= 1);
}

static void
a_damaged_index_is_found(void **state)
{
	(void)state;
	write_shots(0, 1, 400);
	wipe("sqlite_autoindex_shot_2", 0);
	assert_true(check_it(false) >= 1);
}

static void
an_index_that_tells_something_else_is_found_in_full(void **state)
{
	(void)state;
	write_shots(0, 1, 40);
	/* An index that has lost an entry. */
	run_sql("PRAGMA writable_schema = ON;"
		"CREATE TABLE other (a, b);"
		"UPDATE sqlite_schema SET sql = 'CREATE INDEX event_by_time ON event"
		" (kind)' WHERE name = 'event_by_time'");
	assert_int_equal(
	    ledger_put_event(ledger, NULL, seconds(1), "start", "x", &error), 0);
	run_sql("PRAGMA writable_schema = RESET");
	assert_true(check_it(true) >= 1);
	assert_non_null(strstr(findings, "event_by_time"));
}

static void
set_delivered(int64_t change)
{
	const struct ledger_delivered to = {.change = change, .at = seconds(0)};

	assert_int_equal(ledger_set_delivered(ledger, "plant", "shot", &to, &error), 0);
}

static void
a_cursor_beyond_what_there_is_is_found(void **state)
{
	(void)state;
	write_shots(0, 1, 3);
	set_delivered(3);
	assert_int_equal(check_it(false), 0);
	set_delivered(4);
	assert_int_equal(check_it(false), 1);
	assert_non_null(strstr(findings, "'plant'"));
	assert_int_equal(check_it(true), 1);
}

static void
rows_that_point_to_nothing_are_found_in_full(void **state)
{
	(void)state;
	write_shots(0, 1, 3);
	run_sql("PRAGMA foreign_keys = OFF; INSERT INTO absent VALUES (77, 'heat_s',"
		" 'stale'); PRAGMA foreign_keys = ON");
	assert_int_equal(check_it(true), 1);
	assert_non_null(strstr(findings, "absent"));
	run_sql("DELETE FROM absent WHERE shot = 77;"
		"INSERT INTO shot_channel (id) VALUES (77 * 1048576 + 1)");
	assert_int_equal(check_it(true), 1);
	assert_non_null(strstr(findings, "channels of a shot"));
}

static int
count_pauses(void *arg)
{
	return ++*(int *)arg >= 3;
}

static void
a_check_can_be_paused_and_ended(void **state)
{
	int pauses = 0;
	const struct ledger_check check = {.pause = count_pauses, .arg = &pauses};
	(void)state;

	write_shots(0, 1, 60);
	assert_int_equal(ledger_check(fixture.path, &check, &checked, &error), 0);
	assert_int_equal(pauses, 3);
	assert_true(checked.ended);
	assert_int_equal(checked.findings, 0);
}

static void
what_is_no_ledger_is_an_error_and_no_finding(void **state)
{
	const struct ledger_check check = {0};
	(void)state;

	assert_int_equal(
	    ledger_check("/nowhere/ledger.db", &check, &checked, &error), ERROR_IO);
	assert_true(strlen(error.text) > 10);
}

/* The daemon's own statement meets it, and says what to do. */
static void
a_writer_that_meets_damage_says_so_and_goes_on_where_it_can(void **state)
{
	int64_t id;
	(void)state;

	fixture.trace_bytes = 3000;
	write_shots(0, 1, 40);
	wipe("shot", 3);
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL ||
	    ledger_put_setup(ledger, &fixture.settings, seconds(0), &id, &error) != 0)
		fail_msg("%s", error.text);
	/* What is written goes to other pages. */
	write_shots(0, 41, 60);
	/* A label for all of them does not. */
	assert_int_equal(ledger_put_context(ledger,
			     &(struct ledger_entry){"line-1", CONTEXT_TOOL, "T-1",
				 fixture_time(0), seconds(0)},
			     &id, &error),
	    ERROR_DAMAGED);
	assert_non_null(strstr(error.text, "damaged"));
	assert_non_null(strstr(error.text, "evensoak backup --salvage"));
	assert_int_equal(sql_integer("SELECT count(*) FROM context"), 0);
	write_shots(0, 61, 61);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_ledger_that_is_being_written_is_whole),
	    TEST(a_damaged_page_is_found_by_either_check),
	    TEST(a_damaged_index_is_found),
	    TEST(an_index_that_tells_something_else_is_found_in_full),
	    TEST(a_cursor_beyond_what_there_is_is_found),
	    TEST(rows_that_point_to_nothing_are_found_in_full),
	    TEST(a_check_can_be_paused_and_ended),
	    TEST(a_writer_that_meets_damage_says_so_and_goes_on_where_it_can),
	    TEST(what_is_no_ledger_is_an_error_and_no_finding),
	};

	return cmocka_run_group_tests_name("ledger check", tests, NULL, NULL);
}
