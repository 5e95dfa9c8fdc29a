/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For tests of commands that read a CSV file: files in a folder of their own, a command run
 * with its output caught, figures out of JSON. */
#ifndef TESTS_UNIT_CLI_COMMAND_READINGS_H
#define TESTS_UNIT_CLI_COMMAND_READINGS_H

#include "tests/unit/cli/command/plant.h"

struct readings {
	struct plant plant; /* its output and code alone */
	char folder[256], csv[300], materials[300];
};

static inline void
readings_open(struct readings *readings)
{
	const char *temporary = getenv("TMPDIR");

	*readings = (struct readings){0};
	unsetenv("COLUMNS");
	snprintf(readings->folder, sizeof readings->folder, "%s/evensoak-csv-XXXXXX",
	    temporary ? temporary : "/tmp");
	plant_need(mkdtemp(readings->folder) != NULL, "a folder");
	snprintf(
	    readings->csv, sizeof readings->csv, "%s/readings.csv", readings->folder);
	snprintf(readings->materials, sizeof readings->materials, "%s/materials.ini",
	    readings->folder);
}

static inline void
readings_close(struct readings *readings)
{
	unlink(readings->csv);
	unlink(readings->materials);
	plant_need(rmdir(readings->folder) == 0, "removing the folder");
	free(readings->plant.out);
	free(readings->plant.err);
}

static inline void
readings_write(const char *path, const char *text)
{
	FILE *file = fopen(path, "w");

	plant_need(file && fputs(text, file) >= 0 && fclose(file) == 0, "writing");
}

/* A row a second. */
static inline void
readings_course(const struct readings *readings, const char *header,
    double (*top)(double s), double (*bottom)(double s), int length_s)
{
	FILE *file = fopen(readings->csv, "w");

	plant_need(file != NULL, "a file");
	fprintf(file, "%s\n", header);
	for (int s = 0; s <= length_s; s++) {
		fprintf(file, "%d,%.6f", s, top(s));
		if (bottom)
			fprintf(file, ",%.6f", bottom(s));
		fputc('\n', file);
	}
	plant_need(fclose(file) == 0, "writing");
}

/* The number behind the first "key": in JSON, NAN for null. */
static inline double
readings_figure(const struct readings *readings, const char *key)
{
	char quoted[64];
	const char *at;

	snprintf(quoted, sizeof quoted, "\"%s\": ", key);
	at = strstr(readings->plant.out, quoted);
	if (!at)
		fail_msg(
		    "no '%s' in:\n%s%s", key, readings->plant.out, readings->plant.err);
	at += strlen(quoted);
	return strncmp(at, "null", 4) == 0 ? NAN : strtod(at, NULL);
}

#endif
