/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What zsh's _arguments is told: an option each, with its help and what its value is. */
#include "contrib/completion/parts.h"

#include <stddef.h>
#include <string.h>

#include "cli/command/command.h"
#include "cli/command/help.h"
#include "contrib/completion/values.h"
#include "daemon/run/options.h"

/* Within single quotes, where `special` characters stand for something. */
static void
put_quoted(FILE *out, const char *text, const char *special)
{
	for (; *text; text++) {
		if (*text == '\'')
			fputs("'\\''", out);
		else if (strchr(special, *text))
			fprintf(out, "\\%c", *text);
		else
			putc(*text, out);
	}
}

/* " 'name:summary'" */
int
part_zsh_commands(FILE *out, const char *argument, struct error *error)
{
	const struct command *command;

	(void)argument;
	(void)error;
	for (int i = 0; (command = command_at(i)) != NULL; i++) {
		fprintf(out, "\t\t'%s:", command->name);
		put_quoted(out, command->summary, "\\:");
		fputs("'\n", out);
	}
	return 0;
}

/* ":NAME:action" */
static void
put_value(FILE *out, const char *name, enum option_values values,
    const struct command *command)
{
	const char *asked = values_asked(values);

	putc(':', out);
	put_quoted(out, name, "\\:");
	putc(':', out);
	if (values == VALUES_FILES)
		fputs("_files", out);
	else if (asked)
		fprintf(out, "_evensoak_ask %s", asked);
	else if (values != VALUES_ANY) {
		putc('(', out);
		values_print_words(out, values, command);
		putc(')', out);
	}
}

static void
put_option(FILE *out, const struct command *command, int id)
{
	const struct option_traits *option = &option_table[id];

	fprintf(out, "\t\t\t'--%s%s[", option->name, option->value ? "=" : "");
	put_quoted(out, command_option_help(command, id), "\\[]");
	putc(']', out);
	if (option->value)
		put_value(out, option->value, values_of(command, id), command);
	fputs("'\n", out);
}

/* '1: :(enter offsets)' and '2: :_evensoak_part ...' */
static void
put_arguments(FILE *out, const struct command *command)
{
	struct argument list[ARGUMENTS_MOST];
	int count = values_arguments(command, list), words = 0;

	for (int i = 0; i < count; i++)
		words += *list[i].word != '\0';
	if (words == 0) {
		for (int i = 0; i < count; i++) {
			fputs("\t\t\t'1", out);
			put_value(out, command->arguments, list[i].values, command);
			fputs("'\n", out);
		}
		return;
	}
	fputs("\t\t\t'1: :(", out);
	for (int i = 0; i < count; i++)
		fprintf(out, "%s%s", i > 0 ? " " : "", list[i].word);
	fputs(")'\n\t\t\t'2: :_evensoak_part --", out);
	for (int i = 0; i < count; i++)
		if (values_asked(list[i].values))
			fprintf(
			    out, " %s %s", list[i].word, values_asked(list[i].values));
	fputs("'\n", out);
}

int
part_zsh_options(FILE *out, const char *argument, struct error *error)
{
	const struct command *command;

	(void)argument;
	(void)error;
	for (int i = 0; (command = command_at(i)) != NULL; i++) {
		fprintf(out, "\t%s)\n\t\tspecs=(\n", command->name);
		for (int id = 0; id < OPTION_COUNT; id++)
			if (command_options(command) & OPTION_BIT(id))
				put_option(out, command, id);
		put_arguments(out, command);
		fputs("\t\t) ;;\n", out);
	}
	/* before the command is known */
	fputs("\t*)\n\t\tspecs=(\n", out);
	for (int id = 0; id < OPTION_COUNT; id++)
		if (OPTIONS_COMMON & OPTION_BIT(id))
			put_option(out, command_at(0), id);
	fputs("\t\t) ;;\n", out);
	return 0;
}

int
part_zsh_daemon(FILE *out, const char *argument, struct error *error)
{
	(void)argument;
	(void)error;
	for (const struct options_row *row = options_table; row->name; row++) {
		fputs("\t", out);
		if (row->letter <= 0xff)
			fprintf(out, "'(-%c --%s)'{-%c%s,--%s%s}", row->letter,
			    row->name, row->letter, row->value ? "+" : "", row->name,
			    row->value ? "=" : "");
		else
			fprintf(out, "--%s%s", row->name, row->value ? "=" : "");
		fputs("'[", out);
		put_quoted(out, row->help, "\\[]");
		putc(']', out);
		if (row->value)
			put_value(out, row->value,
			    strcmp(row->value, "FILE") == 0 ? VALUES_FILES : VALUES_ANY,
			    NULL);
		fputs("' \\\n", out);
	}
	return 0;
}
