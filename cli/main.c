/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <errno.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/command.h"

/* What could not be written was not reported: that is told, and no success.  A reader
 * that leaves early ends the program by SIGPIPE, unless the caller ignores that. */
int
main(int argc, char *argv[])
{
	int code = command_main(argc, argv, stdout, stderr);
	int failed = ferror(stdout);

	errno = 0;
	if (fclose(stdout) != 0 || failed) {
		fprintf(stderr, "evensoak: cannot write the output: %s\n",
		    /* The only thread. NOLINTNEXTLINE(concurrency-mt-unsafe) */
		    errno ? strerror(errno) : "an earlier write failed");
		return COMMAND_CANNOT;
	}
	return code;
}
