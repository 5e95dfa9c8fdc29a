/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/man/template.h"

#include <string.h>

#include "daemon/base/error.h"

static int
write_part(
    FILE *out, const char *line, const struct template_part *parts, struct error *error)
{
	size_t length = strcspn(line, " ");
	const char *argument = line + length + strspn(line + length, " ");

	for (const struct template_part *part = parts; part->name; part++)
		if (strlen(part->name) == length &&
		    strncmp(part->name, line, length) == 0)
			return part->write(out, argument, error);
	return error_set(error, ERROR_INVALID, "no part '@%s': see main.c", line);
}

static int
fill(FILE *in, FILE *out, const char *path, const struct template_part *parts,
    struct error *error)
{
	char line[1024];

	for (int number = 1; fgets(line, sizeof line, in); number++) {
		size_t length = strcspn(line, "\n");
		int code = 0;

		if (line[length] == '\0')
			code = error_set(error, ERROR_INVALID, "a line is too long");
		line[length] = '\0';
		if (code == 0 && line[0] == '@')
			code = write_part(out, line + 1, parts, error);
		else if (code == 0)
			fprintf(out, "%s\n", line);
		if (code != 0)
			return error_prefix(error, code, "%s:%d", path, number);
	}
	return 0;
}

int
template_main(int argc, char *argv[], const struct template_part *parts)
{
	struct error error;
	FILE *in = argc == 2 ? fopen(argv[1], "r") : NULL;
	int code;

	if (!in) {
		fprintf(
		    stderr, "usage: %s TEMPLATE, a file that can be read\n", argv[0]);
		return 2;
	}
	code = fill(in, stdout, argv[1], parts, &error);
	if (code != 0)
		fprintf(stderr, "%s\n", error.text);
	if (ferror(in) || fclose(in) != 0 || ferror(stdout) || fclose(stdout) != 0) {
		fprintf(stderr, "%s: cannot read or write\n", argv[0]);
		return 3;
	}
	return code == 0 ? 0 : 1;
}
