/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The daemon's own look at its ledger: what it says of a whole one and of a damaged one. */
#include "daemon/run/inspection.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

#include <fcntl.h>

static struct inspection *inspection;
static struct inspection_status now;

static void
start(void)
{
	inspection = inspection_start(fixture.path, &error);
	assert_non_null(inspection);
}

static void
look(void)
{
	inspection_look(inspection);
	inspection_status(inspection, &now);
}

/* What lies in the file's middle is a page of shot_channel. */
static void
damage(void)
{
	static const unsigned char zeros[2048];
	int64_t page = sql_integer("SELECT pageno FROM dbstat WHERE name ="
				   " 'shot_channel' AND pagetype = 'leaf' LIMIT 1"
				   " OFFSET 3");
	int fd;

	/* Into the file, which nobody has open then. */
	ledger_read_close(reader);
	ledger_close(ledger);
	reader = NULL;
	ledger = NULL;
	fd = open(fixture.path, O_WRONLY);
	assert_true(fd >= 0);
	assert_int_equal(
	    pwrite(fd, zeros, sizeof zeros, (page - 1) * 2048), sizeof zeros);
	close(fd);
}

static void
a_whole_ledger_is_said_to_be_whole(void **state)
{
	(void)state;
	start();
	inspection_status(inspection, &now);
	assert_int_equal(now.whole, -1);
	write_shots(0, 1, 20);
	look();
	assert_int_equal(now.whole, 1);
	assert_int_equal(now.looks, 1);
	assert_non_null(strstr(now.text, "looked through"));
	struct wall since = now.since;
	look();
	assert_int_equal(now.looks, 2);
	assert_true(now.since.ns == since.ns);
	inspection_stop(inspection);
}

static void
a_damaged_one_is_told_with_what_to_do(void **state)
{
	(void)state;
	write_shots(0, 1, 40);
	start();
	look();
	assert_int_equal(now.whole, 1);
	damage();
	look();
	assert_int_equal(now.whole, 0);
	assert_true(now.findings >= 1);
	assert_true(strncmp(now.text, "the ledger is damaged in ", 25) == 0);
	assert_non_null(strstr(now.text, "'evensoak backup FILE --salvage'"));
	assert_non_null(strstr(now.text, "one of them: "));
	inspection_stop(inspection);
}

static void
a_ledger_that_is_gone_changes_nothing(void **state)
{
	char other[400];
	(void)state;

	start();
	look();
	snprintf(other, sizeof other, "%s.other", fixture.path);
	assert_int_equal(rename(fixture.path, other), 0);
	look();
	assert_int_equal(now.whole, 1);
	assert_int_equal(now.looks, 1);
	inspection_stop(inspection);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_whole_ledger_is_said_to_be_whole),
	    TEST(a_damaged_one_is_told_with_what_to_do),
	    TEST(a_ledger_that_is_gone_changes_nothing),
	};

	return cmocka_run_group_tests_name("inspection", tests, NULL, NULL);
}
