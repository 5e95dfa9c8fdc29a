/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * linesim: an invented thermoforming line over Modbus TCP.  Exit: 0 done, 2 wrong
 * use, 3 could not.
 */
#include <stdio.h>

#include "contrib/linesim/options.h"
#include "contrib/linesim/session.h"
#include "daemon/base/error.h"

int
main(int count, char **words)
{
	struct options options;
	struct error error;
	int code;

	if (!options_read(&options, count, words)) {
		fputs("linesim: see --help\n", stderr);
		return 2;
	}
	if (options.help) {
		options_help();
		return 0;
	}
	code = session_run(&options, &error);
	if (code == 0)
		return 0;
	fprintf(stderr, "linesim: %s\n", error.text);
	return code == ERROR_INVALID ? 2 : 3;
}
