/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Small programs for the tests, in a folder of their own that goes with them.
 */
#ifndef TESTS_UNIT_DAEMON_NOTIFY_SCRIPT_H
#define TESTS_UNIT_DAEMON_NOTIFY_SCRIPT_H

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <time.h>
#include <unistd.h>

#include <cmocka.h>

static char folder[32], script[64], written[64], told[64];

static inline void
make_folder(void)
{
	strcpy(folder, "/tmp/evensoak-notify-XXXXXX");
	assert_non_null(mkdtemp(folder));
	snprintf(script, sizeof script, "%s/program", folder);
	snprintf(written, sizeof written, "%s/written", folder);
	snprintf(told, sizeof told, "%s/told", folder);
}

static inline void
remove_folder(void)
{
	char command[96];

	snprintf(command, sizeof command, "rm -rf '%s'", folder);
	assert_int_equal(system(command), 0); /* NOLINT(cert-env33-c) */
}

/* Of lines for sh; $F is the folder.  Put in place at once, whole. */
static inline void
write_script(const char *lines)
{
	FILE *file = fopen(written, "w");

	assert_non_null(file);
	fprintf(file, "#!/bin/sh\nF=%s\n%s\n", folder, lines);
	assert_int_equal(fclose(file), 0);
	assert_int_equal(chmod(written, 0755), 0);
	assert_int_equal(rename(written, script), 0);
}

/* What a file of the folder has; "" when it is not there. */
static inline const char *
file_text(const char *name)
{
	static char text[65536];
	char path[96];
	size_t length = 0;

	snprintf(path, sizeof path, "%s/%s", folder, name);
	FILE *file = fopen(path, "r");
	if (file != NULL) {
		length = fread(text, 1, sizeof text - 1, file);
		fclose(file);
	}
	text[length] = '\0';
	return text;
}

static inline void
sleep_ms(long ms)
{
	nanosleep(&(struct timespec){ms / 1000, ms % 1000 * 1000000}, NULL);
}

/* Waits for it, ten seconds at most. */
static inline void
wait_for_file(const char *name)
{
	for (int i = 0; i < 1000 && *file_text(name) == '\0'; i++)
		sleep_ms(10);
	assert_string_not_equal(file_text(name), "");
}

#endif
