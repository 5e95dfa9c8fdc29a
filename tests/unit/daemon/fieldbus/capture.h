/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a test's program writes to stderr, held back and read as one text.
 */
#ifndef TESTS_UNIT_DAEMON_FIELDBUS_CAPTURE_H
#define TESTS_UNIT_DAEMON_FIELDBUS_CAPTURE_H

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

struct capture {
	FILE *file;
	int saved;
	char text[65536];
};

static inline void
capture_start(struct capture *capture)
{
	capture->file = tmpfile();
	capture->saved = dup(STDERR_FILENO);
	if (!capture->file || dup2(fileno(capture->file), STDERR_FILENO) < 0)
		abort();
}

static inline void
capture_end(struct capture *capture)
{
	ssize_t length;

	dup2(capture->saved, STDERR_FILENO);
	close(capture->saved);
	length =
	    pread(fileno(capture->file), capture->text, sizeof capture->text - 1, 0);
	capture->text[length > 0 ? length : 0] = '\0';
	fclose(capture->file);
}

static inline int
capture_count(const struct capture *capture, const char *part)
{
	int count = 0;

	for (const char *at = capture->text; (at = strstr(at, part)); at++)
		count++;
	return count;
}

#endif
