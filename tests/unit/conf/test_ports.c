/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Ports that have two names.  Character devices that are always there stand in for them. */
#include "conf/settings.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include <cmocka.h>

#include "tests/unit/conf/plant.h"
#include "tests/unit/conf/serial.h"

struct folder {
	char path[32], ini[48], port[48];
	char *text; /* whose second bus has the port by the name above */
	struct problems problems;
};

static int
make(void **state)
{
	struct folder *folder = calloc(1, sizeof *folder);
	char *first;

	assert_non_null(folder);
	strcpy(folder->path, "/tmp/ports-XXXXXX");
	assert_non_null(mkdtemp(folder->path));
	snprintf(folder->ini, sizeof folder->ini, "%s/x.ini", folder->path);
	snprintf(folder->port, sizeof folder->port, "%s/port", folder->path);
	first = text_with(serial, "/dev/ttyUSB0", "/dev/null");
	folder->text = text_with(first, "/dev/ttyUSB1", folder->port);
	free(first);
	*state = folder;
	return 0;
}

static int
unmake(void **state)
{
	struct folder *folder = *state;

	unlink(folder->port);
	unlink(folder->ini);
	rmdir(folder->path);
	free(folder->text);
	free(folder);
	return 0;
}

/* The configuration with the second port leading there; "": nowhere. */
static struct settings *
load(struct folder *folder, const char *target)
{
	FILE *file = fopen(folder->ini, "w");

	assert_non_null(file);
	assert_true(fputs(folder->text, file) >= 0);
	assert_int_equal(fclose(file), 0);
	unlink(folder->port);
	if (*target != '\0')
		assert_int_equal(symlink(target, folder->port), 0);
	return settings_load(folder->ini, &folder->problems);
}

static void
one_port_under_two_names_is_refused(void **state)
{
	struct folder *folder = *state;
	char said[256];

	assert_null(load(folder, "/dev/null"));
	assert_int_equal(folder->problems.count, 1);
	snprintf(said, sizeof said,
	    "%s:14: 'port' is '%s', which is the same port as '/dev/null' of [bus "
	    "ovens] in line 10: put their devices on one of them, and leave the other "
	    "out",
	    folder->ini, folder->port);
	assert_string_equal(folder->problems.list[0].text, said);
}

static void
ports_of_their_own_and_ports_that_are_not_there_are_taken(void **state)
{
	struct folder *folder = *state;
	static const char *const targets[] = {"/dev/zero", "", "/nowhere/at/all"};

	for (size_t i = 0; i < sizeof targets / sizeof targets[0]; i++) {
		struct settings *settings = load(folder, targets[i]);

		assert_non_null(settings);
		settings_free(settings);
	}
}

/* What a ledger keeps is read on any machine. */
static void
a_text_that_was_kept_asks_for_no_ports(void **state)
{
	struct folder *folder = *state;
	struct settings *settings;

	assert_null(load(folder, "/dev/null"));
	settings = settings_parse(folder->text, folder->ini, &folder->problems);
	assert_non_null(settings);
	settings_free(settings);
}

int
main(void)
{
#define MADE(name) cmocka_unit_test_setup_teardown(name, make, unmake)
	const struct CMUnitTest tests[] = {
	    MADE(one_port_under_two_names_is_refused),
	    MADE(ports_of_their_own_and_ports_that_are_not_there_are_taken),
	    MADE(a_text_that_was_kept_asks_for_no_ports),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
