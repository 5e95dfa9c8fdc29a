/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shots of the simulated plant.
 *
 *     matrix --csv [--shots N] [--seed N] [--start UNIX_SECONDS] [SCRIPT_LINE]...
 *         every feature of so many shots, with the truth
 *
 * A SCRIPT_LINE is one line of a script of linesim's, or @FILE for all those of a file.
 */
#include <getopt.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/text.h"
#include "tests/physics/features_csv.h"

#define START_UNIX_S 1772427600 /* 2026-03-02T05:00:00Z */

enum { SCRIPT_ROOM = 1 << 20 };

static void
add_file(struct text *script, const char *path)
{
	char line[1000];
	FILE *file = fopen(path, "r");

	if (file == NULL) {
		perror(path);
		exit(2);
	}
	while (fgets(line, sizeof line, file) != NULL)
		text_puts(script, line);
	fclose(file);
}

static int
usage(void)
{
	fputs("usage: matrix --csv [--shots N] [--seed N] [--start UNIX_SECONDS] "
	      "[SCRIPT_LINE | @FILE]...\n",
	    stderr);
	return 2;
}

int
main(int argc, char **argv)
{
	static const struct option options[] = {{"csv", no_argument, NULL, 'c'},
	    {"shots", required_argument, NULL, 'n'},
	    {"seed", required_argument, NULL, 's'},
	    {"start", required_argument, NULL, 't'}, {0}};
	struct plant_line_setup line = {.seed = 1, .start_unix_s = START_UNIX_S};
	struct settings *settings;
	struct text script;
	int option, shots = 150;
	bool csv = false, good;

	while ((option = getopt_long(argc, argv, "", options, NULL)) >= 0)
		switch (option) {
		case 'c':
			csv = true;
			break;
		case 'n':
			shots = atoi(optarg);
			break;
		case 's':
			line.seed = strtoull(optarg, NULL, 10);
			break;
		case 't':
			line.start_unix_s = atoll(optarg);
			break;
		default:
			return usage();
		}
	if (!csv || shots < 1)
		return usage();
	text_init(&script, SCRIPT_ROOM);
	for (int i = optind; i < argc; i++)
		if (argv[i][0] == '@')
			add_file(&script, argv[i] + 1);
		else
			text_printf(&script, "%s\n", argv[i]);
	line.script = script.bytes;
	settings = player_settings();
	good = features_csv_write(stdout, settings, &line, shots);
	settings_free(settings);
	text_release(&script);
	return good ? 0 : 1;
}
