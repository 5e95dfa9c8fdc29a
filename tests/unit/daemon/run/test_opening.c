/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A ledger that cannot be opened at the start: shots wait, and go into it when it can. */
#include "daemon/run/opening.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <sys/stat.h>

#include <cmocka.h>

#include "tests/unit/daemon/run/filing_fixture.h"

static int64_t found[2];

static void
take_found(void *arg, uint32_t line, int64_t last_shot_no)
{
	(void)arg;
	found[line] = last_shot_no;
	filing_put_standing(filing, line, fixture_time(9), "new", 3);
}

static void
a_ledger_opened_late_is_numbered_on(void **state)
{
	struct tracker_start start;
	char aside[400];

	(void)state;
	put_shot(1);
	put_shot(2);
	assert_true(filing_write(filing, false));
	filing_free(filing);
	/* the disk is so full that the ledger cannot be seen */
	snprintf(aside, sizeof(aside), "%s.aside", fixture.path);
	assert_int_equal(rename(fixture.path, aside), 0);
	fault.code = SQLITE_FULL;
	fault.left = 0;
	filing = filing_open(&fixture.settings, &error);
	assert_non_null(filing);
	assert_int_equal(status().open, 0);
	assert_int_equal(status().writing, 0);
	filing_set_hook(filing, (struct filing_hook){take_found, NULL});
	assert_int_equal(filing_start(filing, 0, &start, &error), 0);
	assert_int_equal(start.last_shot_no, 0);
	assert_null(start.saved);
	put_standing("old");
	put_shot(1);
	put_shot(2);
	assert_false(filing_write(filing, false));
	assert_int_equal(rename(aside, fixture.path), 0);
	assert_true(filing_write(filing, true));
	assert_int_equal(status().open, 1);
	assert_int_equal(found[0], 2);
	assert_int_equal(found[1], 0);
	assert_start(4, "new");
}

/* --- damaged where it is read at the start ------------------------------------------- */

/* The first bytes of the page where a table begins; of sqlite_schema that is 1. */
static void
damage(int64_t page)
{
	static const unsigned char zeros[16];
	int fd = open(fixture.path, O_WRONLY);

	assert_true(fd >= 0);
	assert_int_equal(
	    pwrite(fd, zeros, sizeof(zeros), page == 1 ? 100 : (page - 1) * 2048),
	    sizeof(zeros));
	close(fd);
}

static void
aside_path(char aside[static 400], const char *suffix)
{
	snprintf(aside, 400, "%s.%s", fixture.path, suffix);
}

/* As a copy of the ledger that is made beside it. */
static void
keep_copy(void)
{
	char sql[500];

	snprintf(sql, sizeof(sql), "VACUUM INTO '%s.whole'", fixture.path);
	run_outside(sql);
}

static void
put_copy_there(void)
{
	char whole[400];

	aside_path(whole, "whole");
	assert_int_equal(rename(whole, fixture.path), 0);
}

/* Two shots on file; then a page, that of `sql`, is damaged while nobody runs. */
static void
open_damaged(const char *sql)
{
	put_shot(1);
	put_shot(2);
	put_standing("old");
	assert_true(filing_write(filing, false));
	keep_copy();
	int64_t page = sql_integer(sql);
	filing_free(filing);
	damage(page);
	filing = filing_open(&fixture.settings, &error);
	if (filing == NULL)
		fail_msg("%s", error.text);
	filing_set_hook(filing, (struct filing_hook){take_found, NULL});
	assert_int_equal(status().open, 0);
	assert_int_equal(status().writing, 0);
	assert_non_null(strstr(status().text, "damaged"));
}

static void
go_on_with_copy(void)
{
	char aside[400];

	put_shot(1);
	put_shot(2);
	assert_false(filing_write(filing, true));
	assert_int_equal(status().waiting, 2);
	aside_path(aside, "damaged");
	assert_int_equal(rename(fixture.path, aside), 0);
	put_shot(3);
	assert_false(filing_write(filing, true)); /* and makes none */
	assert_int_not_equal(access(fixture.path, F_OK), 0);
	assert_non_null(strstr(status().text, "is gone"));
	put_copy_there();
	assert_true(filing_write(filing, true));
	assert_int_equal(status().open, 1);
	assert_int_equal(status().writing, 1);
	assert_int_equal(status().lost, 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot"), 5);
	assert_start(5, "new");
}

static void
one_without_its_list_of_tables_is_waited_for(void **state)
{
	(void)state;
	open_damaged("SELECT 1");
	go_on_with_copy();
}

static void
one_without_its_lines_is_waited_for(void **state)
{
	(void)state;
	open_damaged("SELECT rootpage FROM sqlite_schema WHERE name = 'line'");
	go_on_with_copy();
}

/* It takes shots, which is what counts, and says that it does not take all. */
static void
one_that_has_lost_who_stands_where_takes_shots(void **state)
{
	(void)state;
	open_damaged("SELECT rootpage FROM sqlite_schema WHERE name = 'in_flight'");
	put_shot(1);
	put_shot(2);
	assert_false(filing_write(filing, true));
	assert_int_equal(status().open, 1);
	assert_int_equal(status().writing, 0);
	assert_int_equal(status().waiting, 0);
	assert_int_equal(status().filed, 2);
	assert_int_equal(sql_integer("SELECT max(shot_no) FROM shot"), 4);
}

static void
what_is_lost_meanwhile_is_counted(void **state)
{
	(void)state;
	open_damaged("SELECT 1");
	for (int64_t no = 1; no <= 8; no++)
		put_shot(no);
	assert_false(filing_write(filing, true));
	assert_int_equal(status().waiting, 5);
	assert_int_equal(status().lost, 3);
	put_copy_there();
	assert_true(filing_write(filing, true));
	assert_int_equal(sql_integer("SELECT max(shot_no) FROM shot"), 7);
}

/* Nobody's shots are to be found in what is no ledger. */
static void
what_is_no_ledger_is_refused_at_once(void **state)
{
	(void)state;
	filing_free(filing);
	FILE *file = fopen(fixture.path, "wb");
	assert_non_null(file);
	for (int i = 0; i < 500; i++)
		fputs("no ledger at all", file);
	fclose(file);
	filing = filing_open(&fixture.settings, &error);
	assert_null(filing);
}

/* --- somebody else's files -------------------------------------------------------------- */

enum { NOBODY = 65534 }; /* Debian's */

/* Root may write everything: so as nobody, in a folder of nobody's. */
static void
become_nobody(void)
{
	if (geteuid() != 0)
		return;
	assert_int_equal(chown(fixture.directory, NOBODY, NOBODY), 0);
	assert_int_equal(seteuid(NOBODY), 0);
}

static void
as_root(int (*what)(void))
{
	uid_t before = geteuid();

	assert_int_equal(seteuid(getuid()), 0);
	assert_int_equal(what(), 0);
	assert_int_equal(seteuid(before), 0);
}

static int
give_away(void)
{
	return getuid() == 0 ? chown(fixture.path, 0, 0) : chmod(fixture.path, 0444);
}

static int
give_back(void)
{
	return getuid() == 0 ? chown(fixture.path, NOBODY, NOBODY)
	                     : chmod(fixture.path, 0664);
}

static int
end_as_root(void **state)
{
	return seteuid(getuid()) == 0 ? end(state) : -1;
}

/* As after a restore by root. */
static void
one_of_somebody_elses_is_waited_for(void **state)
{
	char said[400];

	(void)state;
	put_shot(1);
	put_shot(2);
	assert_true(filing_write(filing, false));
	filing_free(filing);
	as_root(give_away);
	become_nobody();
	filing = filing_open(&fixture.settings, &error);
	if (filing == NULL)
		fail_msg("%s", error.text);
	snprintf(said, sizeof(said), ": sudo %s %s",
	    getuid() == 0 ? "chown nobody:" : "chmod u+w", fixture.path);
	assert_int_equal(status().open, 0);
	assert_non_null(strstr(status().text, said));
	put_shot(1);
	assert_false(filing_write(filing, true));
	assert_non_null(strstr(status().text, said));
	as_root(give_back);
	assert_true(filing_write(filing, true));
	assert_int_equal(status().writing, 1);
	assert_int_equal(status().lost, 0);
	assert_int_equal(sql_integer("SELECT max(shot_no) FROM shot"), 3);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    FILED(a_ledger_opened_late_is_numbered_on),
	    FILED(one_without_its_list_of_tables_is_waited_for),
	    FILED(one_without_its_lines_is_waited_for),
	    FILED(one_that_has_lost_who_stands_where_takes_shots),
	    FILED(what_is_lost_meanwhile_is_counted),
	    FILED(what_is_no_ledger_is_refused_at_once),
	    cmocka_unit_test_setup_teardown(
		one_of_somebody_elses_is_waited_for, begin, end_as_root),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
