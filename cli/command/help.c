/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/help.h"

#include <stdio.h>
#include <string.h>

#include "cli/command/command.h"

/* Indexed by enum page_format: those before PAGE_HTML every command has. */
static const char *const format_names[] = {
    [PAGE_TEXT] = "text",
    [PAGE_JSON] = "json",
    [PAGE_CSV] = "csv",
    [PAGE_HTML] = "html",
    [PAGE_PDF] = "pdf",
    [PAGE_SVG] = "svg",
    [PAGE_PNG] = "png",
};

option_set
command_options(const struct command *command)
{
	return OPTIONS_COMMON | command->options |
	       (command->pages ? OPTION_BIT(OPTION_PICTURE) : 0);
}

const char *
command_format(const struct command *command, int place)
{
	const int count = command->pages ? PAGE_PNG + 1 : PAGE_HTML;

	if (command->own_format)
		return place == 0 ? command->own_format : NULL;
	return place < count ? format_names[place] : NULL;
}

void
help_print_overview(FILE *out)
{
	const struct command *command;

	fputs("evensoak COMMAND [OPTIONS]: reports on the shots of thermoforming lines "
	      "that evensoakd keeps\n\n",
	    out);
	for (int i = 0; (command = command_at(i)) != NULL; i++)
		fprintf(out, "  %-12s  %s\n", command->name, command->summary);
	fputs("\nHelp on one: evensoak COMMAND --help\n"
	      "Exit: 0 done, 1 the answer is no or nothing is there, 2 wrong usage, "
	      "3 cannot\n",
	    out);
}

const char *
command_option_help(const struct command *command, int id)
{
	for (const struct option_help *own = command->help; own && own->help; own++)
		if ((int)own->option == id)
			return own->help;
	if (command->pages && id == OPTION_FORMAT)
		return "text, json, csv, html, pdf, svg or png; text is as wide as the "
		       "terminal, COLUMNS or 100";
	return option_table[id].help;
}

static void
print_options(FILE *out, const struct command *command, option_set options)
{
	for (int id = 0; id < OPTION_COUNT; id++) {
		char form[40];
		if (!(options & OPTION_BIT(id)))
			continue;
		snprintf(form, sizeof form, "--%s%s%s", option_table[id].name,
		    option_table[id].value ? " " : "",
		    option_table[id].value ? option_table[id].value : "");
		fprintf(out, "  %-19s  %s\n", form, command_option_help(command, id));
	}
}

void
help_print(FILE *out, const struct command *command)
{
	fprintf(out, "evensoak %s [OPTIONS]%s%s: %s\n\n%s\n\n", command->name,
	    *command->arguments ? " " : "", command->arguments, command->summary,
	    command->details);
	print_options(out, command, command_options(command) & ~OPTIONS_COMMON);
	print_options(out, command, OPTIONS_COMMON);
}
