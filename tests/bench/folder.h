/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A folder of a bench's own, in $TMPDIR or /tmp.
 */
#ifndef TESTS_BENCH_FOLDER_H
#define TESTS_BENCH_FOLDER_H

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <unistd.h>

struct folder {
	char path[256];
};

/* In memory if there is such a place: where thousands of fsyncs are not the matter. */
static inline const char *
folder_in_memory(void)
{
	return access("/dev/shm", W_OK) == 0 ? "/dev/shm" : "/tmp";
}

/* `usual`: where TMPDIR is not set. */
static inline bool
folder_make(struct folder *folder, const char *usual)
{
	const char *temporary = getenv("TMPDIR");

	snprintf(folder->path, sizeof folder->path, "%s/evensoak-bench-XXXXXX",
	    temporary ? temporary : usual);
	return mkdtemp(folder->path) != NULL;
}

static inline void
folder_remove(const struct folder *folder)
{
	char command[300];

	snprintf(command, sizeof command, "rm -rf '%s'", folder->path);
	(void)!system(command);
}

#endif
