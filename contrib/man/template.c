/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/man/template.h"

#include <string.h>

#include "contrib/man/parts.h"
#include "daemon/base/error.h"

static const struct {
	const char *name;
	part_write *write;
} parts[] = {
    {"command-list", part_command_list},
    {"commands", part_commands},
    {"common-options", part_common_options},
    {"daemon-options", part_daemon_options},
    {"settings", part_settings},
    {"roles", part_roles},
    {"machines", part_machines},
    {"units", part_units},
    {"ledger-tables", part_ledger_tables},
    {"features", part_features},
    {"features-end", part_features_end},
};

static int
write_part(FILE *out, const char *line, struct error *error)
{
	size_t length = strcspn(line, " ");
	const char *argument = line + length + strspn(line + length, " ");

	for (size_t i = 0; i < sizeof parts / sizeof parts[0]; i++)
		if (strlen(parts[i].name) == length &&
		    strncmp(parts[i].name, line, length) == 0)
			return parts[i].write(out, argument, error);
	return error_set(
	    error, ERROR_INVALID, "no part '@%s': see contrib/man/template.c", line);
}

int
template_fill(FILE *in, FILE *out, const char *path, struct error *error)
{
	char line[1024];

	for (int number = 1; fgets(line, sizeof line, in); number++) {
		size_t length = strcspn(line, "\n");
		int code = 0;

		if (line[length] == '\0')
			code = error_set(error, ERROR_INVALID, "a line is too long");
		line[length] = '\0';
		if (code == 0 && line[0] == '@')
			code = write_part(out, line + 1, error);
		else if (code == 0)
			fprintf(out, "%s\n", line);
		if (code != 0)
			return error_prefix(error, code, "%s:%d", path, number);
	}
	return 0;
}
