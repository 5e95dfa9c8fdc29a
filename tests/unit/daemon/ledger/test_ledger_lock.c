/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_lock.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include <cmocka.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"

static char folder[] = "/tmp/evensoak-test-XXXXXX", path[64], lock[80], other[64];

static int
begin(void **state)
{
	(void)state;
	strcpy(folder, "/tmp/evensoak-test-XXXXXX");
	assert_non_null(mkdtemp(folder));
	snprintf(path, sizeof path, "%s/ledger.db", folder);
	snprintf(lock, sizeof lock, "%s.lock", path);
	snprintf(other, sizeof other, "%s/other", folder);
	return 0;
}

static int
end(void **state)
{
	(void)state;
	unlink(lock);
	unlink(other);
	return rmdir(folder);
}

/* The daemon writes into the lock's file. */
static void
a_link_in_the_place_of_the_lock_is_not_followed(void **state)
{
	char kept[8] = "";
	struct error error;
	int fd = open(other, O_RDWR | O_CREAT | O_CLOEXEC, 0600);

	(void)state;
	assert_int_equal(write(fd, "kept", 4), 4);
	assert_int_equal(symlink(other, lock), 0);
	assert_int_equal(ledger_lock(path, &error), ERROR_IO);
	assert_non_null(strstr(error.text, lock));
	assert_false(ledger_lock_held(path));
	assert_int_equal(pread(fd, kept, sizeof kept, 0), 4);
	assert_string_equal(kept, "kept");
	close(fd);
}

static void
a_pipe_in_the_place_of_the_lock_is_not_waited_for(void **state)
{
	char told[LEDGER_LOCK_TOLD];

	(void)state;
	assert_int_equal(mkfifo(lock, 0600), 0);
	alarm(5);
	assert_false(ledger_lock_held(path));
	ledger_lock_told(path, told);
	assert_string_equal(told, "");
	alarm(0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup_teardown(
		a_link_in_the_place_of_the_lock_is_not_followed, begin, end),
	    cmocka_unit_test_setup_teardown(
		a_pipe_in_the_place_of_the_lock_is_not_waited_for, begin, end),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
