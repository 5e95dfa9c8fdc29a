/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What bash is told: words in the branches of case statements. */
#include "contrib/completion/parts.h"

#include <string.h>

#include "cli/command/command.h"
#include "cli/command/help.h"
#include "contrib/completion/values.h"
#include "daemon/run/options.h"

int
part_commands(FILE *out, const char *argument, struct error *error)
{
	const struct command *command;

	(void)argument;
	(void)error;
	for (int i = 0; (command = command_at(i)) != NULL; i++)
		fprintf(out, "\t%s\n", command->name);
	fputs("\thelp\n", out);
	return 0;
}

int
part_value_options(FILE *out, const char *argument, struct error *error)
{
	(void)argument;
	(void)error;
	for (int id = 0; id < OPTION_COUNT; id++)
		if (option_table[id].value)
			fprintf(out, "\t--%s\n", option_table[id].name);
	return 0;
}

static void
put_options(FILE *out, option_set options)
{
	for (int id = 0; id < OPTION_COUNT; id++)
		if (options & OPTION_BIT(id))
			fprintf(out, " --%s", option_table[id].name);
}

int
part_bash_options(FILE *out, const char *argument, struct error *error)
{
	const struct command *command;

	(void)argument;
	(void)error;
	for (int i = 0; (command = command_at(i)) != NULL; i++) {
		fprintf(out, "\t%s) _evensoak_say", command->name);
		put_options(out, command_options(command));
		fputs(" ;;\n", out);
	}
	fputs("\t*) _evensoak_say", out);
	put_options(out, OPTIONS_COMMON);
	fputs(" ;;\n", out);
	return 0;
}

/* --- values ------------------------------------------------------------------------------ */

/* "words text json" or "ask line", the rest of a branch. */
static void
put_values(FILE *out, enum option_values values, const struct command *command)
{
	const char *asked = values_asked(values);

	if (asked)
		fprintf(out, " _evensoak_ask %s", asked);
	else if (values != VALUES_ANY) {
		fputs(" _evensoak_say ", out);
		values_print_words(out, values, command);
	}
	fputs(" ;;\n", out);
}

/* Those that are of one command alone: its formats, and what differs there. */
static void
put_own_values(FILE *out, const struct command *command)
{
	for (int id = 0; id < OPTION_COUNT; id++) {
		enum option_values values = values_of(command, id);
		if (id != OPTION_FORMAT && values == option_table[id].values)
			continue;
		fprintf(out, "\t%s/--%s)", command->name, option_table[id].name);
		put_values(out, values, command);
	}
}

int
part_bash_values(FILE *out, const char *argument, struct error *error)
{
	const struct command *command;

	(void)argument;
	(void)error;
	for (int i = 0; (command = command_at(i)) != NULL; i++)
		put_own_values(out, command);
	for (int id = 0; id < OPTION_COUNT; id++) {
		enum option_values values = option_table[id].values;
		if (values == VALUES_ANY || values == VALUES_FORMATS)
			continue;
		fprintf(out, "\t*/--%s)", option_table[id].name);
		put_values(out, values, NULL);
	}
	return 0;
}

/* "calibrate/0": what may be the first argument; "calibrate/enter/1": what follows it. */
int
part_bash_arguments(FILE *out, const char *argument, struct error *error)
{
	const struct command *command;

	(void)argument;
	(void)error;
	for (int i = 0; (command = command_at(i)) != NULL; i++) {
		struct argument list[ARGUMENTS_MOST];
		int count = values_arguments(command, list), words = 0;

		for (int j = 0; j < count; j++) {
			words += *list[j].word != '\0';
			if (list[j].values == VALUES_ANY)
				continue;
			fprintf(out, "\t%s/%s%s)", command->name, list[j].word,
			    *list[j].word ? "/1" : "0");
			put_values(out, list[j].values, command);
		}
		if (words == 0)
			continue;
		fprintf(out, "\t%s/0) _evensoak_say", command->name);
		for (int j = 0; j < count; j++)
			fprintf(out, " %s", list[j].word);
		fputs(" ;;\n", out);
	}
	return 0;
}

int
part_bash_daemon(FILE *out, const char *argument, struct error *error)
{
	(void)argument;
	(void)error;
	for (const struct options_row *row = options_table; row->name; row++) {
		fprintf(out, "\t--%s\n", row->name);
		if (row->letter <= 0xff)
			fprintf(out, "\t-%c\n", row->letter);
	}
	return 0;
}

/* "-c | --config)" */
int
part_bash_daemon_files(FILE *out, const char *argument, struct error *error)
{
	const char *between = "\t";

	(void)argument;
	(void)error;
	for (const struct options_row *row = options_table; row->name; row++) {
		if (!row->value || strcmp(row->value, "FILE") != 0)
			continue;
		if (row->letter <= 0xff) {
			fprintf(out, "%s-%c", between, row->letter);
			between = " | ";
		}
		fprintf(out, "%s--%s", between, row->name);
		between = " | ";
	}
	fputs(")\n", out);
	return 0;
}
