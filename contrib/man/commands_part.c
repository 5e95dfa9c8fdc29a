/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The commands of evensoak, and the options of both programs. */
#include "contrib/man/parts.h"

#include <string.h>

#include "cli/command/command.h"
#include "cli/command/help.h"
#include "contrib/man/mdoc.h"
#include "daemon/run/options.h"

int
part_command_list(FILE *out, const char *argument, struct error *error)
{
	const struct command *command;

	(void)argument;
	(void)error;
	fputs(".Bl -tag -width capability -compact\n", out);
	for (int i = 0; (command = command_at(i)) != NULL; i++) {
		fputs(".It Cm", out);
		mdoc_argument(out, command->name);
		fputs("\n", out);
		mdoc_text(out, command->summary);
	}
	fputs(".El\n", out);
	return 0;
}

/* --- options ---------------------------------------------------------------------------- */

static void
put_option(FILE *out, const char *name, const char *value, const char *help)
{
	fprintf(out, ".It Fl -%s", name);
	if (value) {
		fputs(" Ar", out);
		mdoc_argument(out, value);
	}
	fputs("\n", out);
	mdoc_sentence(out, help);
}

int
part_common_options(FILE *out, const char *argument, struct error *error)
{
	(void)argument;
	(void)error;
	fputs(".Bl -tag -width Ds\n", out);
	for (int id = 0; id < OPTION_COUNT; id++)
		if (OPTIONS_COMMON & OPTION_BIT(id))
			put_option(out, option_table[id].name, option_table[id].value,
			    option_table[id].help);
	fputs(".El\n", out);
	return 0;
}

/* Its own, and of those that all commands take the ones that mean something else here. */
static bool
is_told(const struct command *command, int id)
{
	if (!(command_options(command) & OPTION_BIT(id)))
		return false;
	return !(OPTIONS_COMMON & OPTION_BIT(id)) ||
	       strcmp(command_option_help(command, id), option_table[id].help) != 0;
}

static void
put_options(FILE *out, const struct command *command)
{
	bool any = false;

	for (int id = 0; id < OPTION_COUNT; id++) {
		if (!is_told(command, id))
			continue;
		if (!any)
			fputs(".Bl -tag -width Ds\n", out);
		any = true;
		put_option(out, option_table[id].name, option_table[id].value,
		    command_option_help(command, id));
	}
	if (any)
		fputs(".El\n", out);
}

static void
put_command(FILE *out, const struct command *command)
{
	fputs(".Ss", out);
	mdoc_argument(out, command->name);
	fputs(" \\(em", out);
	mdoc_argument(out, command->summary);
	fputs("\n.D1 Nm evensoak Cm", out);
	mdoc_argument(out, command->name);
	fputs(" Oo Ar options Oc", out);
	if (*command->arguments) {
		fputs(" No", out);
		mdoc_argument(out, command->arguments);
	}
	fputs("\n.Pp\n", out);
	mdoc_help(out, command->details, command->arguments);
	put_options(out, command);
}

int
part_commands(FILE *out, const char *argument, struct error *error)
{
	const struct command *command;

	(void)argument;
	(void)error;
	for (int i = 0; (command = command_at(i)) != NULL; i++)
		put_command(out, command);
	return 0;
}

/* --- the daemon --------------------------------------------------------------------------- */

int
part_daemon_options(FILE *out, const char *argument, struct error *error)
{
	bool simulated = strcmp(argument, "simulated") == 0;

	(void)error;
	fputs(".Bl -tag -width Ds\n", out);
	for (const struct options_row *row = options_table; row->name; row++) {
		if (row->simulated != simulated)
			continue;
		fputs(".It", out);
		if (row->letter <= 0xff)
			fprintf(out, " Fl %c ,", row->letter);
		fprintf(out, " Fl -%s", row->name);
		if (row->value)
			fprintf(out, " Ar %s", row->value);
		fputs("\n", out);
		mdoc_sentence(out, row->help);
	}
	fputs(".El\n", out);
	return 0;
}
