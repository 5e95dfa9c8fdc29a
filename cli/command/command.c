/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>
#include <string.h>

#include "cli/command/help.h"
#include "cli/command/terminal.h"
#include "cli/stats/numerics.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

static const struct command *const commands[] = {
    &command_check,
    &command_registers,
    &command_status,
    &command_shots,
    &command_shot,
    &command_soak,
    &command_context,
    &command_report,
    &command_trend,
    &command_hold,
    &command_capability,
    &command_watch,
    &command_recompute,
    &command_calibrate,
    &command_reference,
    &command_compare,
    &command_close_shifts,
    &command_export,
    &command_resend,
    &command_backup,
};
enum { COMMAND_COUNT = sizeof commands / sizeof commands[0] };

const struct command *
command_at(int place)
{
	return place < COMMAND_COUNT ? commands[place] : NULL;
}

static const char out_of_memory[] = "out of memory";

/* --- trouble ----------------------------------------------------------------- */

static enum command_exit
cannot_for_memory(const struct call *call)
{
	struct error error;

	error_set(&error, ERROR_MEMORY, "%s", out_of_memory);
	return command_cannot(call, &error);
}

struct page *
command_page_of(const struct call *call, const char *csv_table)
{
	struct page *page = page_new(call->out, call->format, call->colour, csv_table);

	if (!page)
		cannot_for_memory(call);
	else {
		page_set_width(page, terminal_width(call->out));
		page_choose_picture(page, call->option[OPTION_PICTURE]);
	}
	return page;
}

struct page *
command_page(const struct call *call)
{
	return command_page_of(call, call->command->csv_table);
}

static bool
is_one_picture(const struct call *call)
{
	return call->format == PAGE_SVG || call->format == PAGE_PNG;
}

/* A page of one picture without it is empty. */
static enum command_exit
refuse_picture(const struct call *call, const struct page *page)
{
	const char *name = call->option[OPTION_PICTURE];

	if (*page_picture_names(page) && !name)
		return command_usage(call,
		    "this page has several pictures: say '--picture' with one of %s",
		    page_picture_names(page));
	if (*page_picture_names(page))
		return command_usage(call, "no picture '%s'; '--picture' is one of %s",
		    name, page_picture_names(page));
	fputs("evensoak: this page has no picture\n", call->err);
	return COMMAND_NO;
}

enum command_exit
command_end_page(const struct call *call, struct page *page, enum command_exit code)
{
	bool found;

	page_pictures(page, &found);
	if (is_one_picture(call) && !found)
		code = refuse_picture(call, page);
	return page_end(page) == 0 ? code : cannot_for_memory(call);
}

enum command_exit
command_refuse_options(const struct call *call, const char *part, option_set allowed)
{
	if (call->command->pages)
		allowed |= OPTION_BIT(OPTION_PICTURE);
	for (int id = 0; id < OPTION_COUNT; id++)
		if (call->option[id] && !((OPTIONS_COMMON | allowed) & OPTION_BIT(id)))
			return command_usage(call, "'%s%s%s' takes no '--%s'",
			    call->command->name, *part ? " " : "", part,
			    option_table[id].name);
	return COMMAND_DONE;
}

/* --- the command line ---------------------------------------------------------- */

static const struct command *
find_command(const char *name)
{
	for (int i = 0; i < COMMAND_COUNT; i++)
		if (strcmp(commands[i]->name, name) == 0)
			return commands[i];
	return NULL;
}

static enum command_exit
refuse_command(const struct call *call, const char *name)
{
	const char *names[COMMAND_COUNT];

	for (int i = 0; i < COMMAND_COUNT; i++)
		names[i] = commands[i]->name;
	const char *near = text_nearest(name, names, COMMAND_COUNT);
	return command_usage(call, "unknown command '%s'%s%s%s", name,
	    near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
}

static enum command_exit
take_format(struct call *call, const char *format)
{
	const bool pages = call->command->pages;
	const char *name;

	for (int i = 0; (name = command_format(call->command, i)) != NULL; i++)
		if (strcmp(format, name) == 0) {
			call->format = (enum page_format)i;
			return COMMAND_DONE;
		}
	return command_usage(call, "'--format' is '%s', must be text, json%s", format,
	    pages ? ", csv, html, pdf, svg or png" : " or csv");
}

static enum command_exit
read_format(struct call *call)
{
	const char *format = call->option[OPTION_FORMAT];
	enum command_exit code = COMMAND_DONE;

	call->format = PAGE_TEXT;
	if (format && !call->command->own_format)
		code = take_format(call, format);
	if (code != COMMAND_DONE)
		return code;
	if (call->option[OPTION_PICTURE] && !is_one_picture(call))
		return command_usage(
		    call, "'--picture' needs '--format svg' or '--format png'");
	if ((call->format == PAGE_PDF || call->format == PAGE_PNG) &&
	    terminal_is(call->out))
		return command_usage(call,
		    "a terminal cannot show '--format %s'; write it to a file: > "
		    "%s.%s",
		    format, call->command->name, format);
	return COMMAND_DONE;
}

static enum command_exit
read_colour(struct call *call)
{
	const char *when = call->option[OPTION_COLOR];
	/* The only thread. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	const char *refused = getenv("NO_COLOR");

	call->colour = terminal_is(call->out) && !(refused && *refused);
	if (!when || strcmp(when, "auto") == 0)
		return COMMAND_DONE;
	call->colour = strcmp(when, "always") == 0;
	if (call->colour || strcmp(when, "never") == 0)
		return COMMAND_DONE;
	return command_usage(
	    call, "'--color' is '%s', must be auto, always or never", when);
}

/* An argument that is no option: the command first, then what belongs to it. */
static enum command_exit
take_argument(struct call *call, const char *argument)
{
	if (!call->command) {
		call->command = find_command(argument);
		return call->command ? COMMAND_DONE : refuse_command(call, argument);
	}
	if (call->argument_count >= call->command->argument_most)
		return command_usage(call, "'%s' is one argument too many", argument);
	call->argument[call->argument_count++] = argument;
	return COMMAND_DONE;
}

static enum command_exit
read_line(struct call *call, int argc, char *const argv[])
{
	bool options_end = false;
	option_set here = 0; /* given so far: before the command, or behind it */

	for (int at = 1; at < argc;) {
		struct error error;
		if (options_end || argv[at][0] != '-' || argv[at][1] == '\0') {
			bool is_command = !call->command;
			enum command_exit code = take_argument(call, argv[at++]);
			if (code != COMMAND_DONE)
				return code;
			if (is_command)
				here = 0; /* what an alias gives may be given anew */
			continue;
		}
		if (strcmp(argv[at], "--") == 0) {
			options_end = true;
			at++;
			continue;
		}
		struct option_value value;
		/* which ones fit is known when the command is: until then, any */
		option_set allowed =
		    call->command ? command_options(call->command) : OPTION_ALL;
		int id = option_read(argc, argv, &at, allowed, &value, &error);
		if (id < 0)
			return command_usage(call, "%s", error.text);
		if ((here & OPTION_BIT(id)) && id != OPTION_HELP)
			return command_usage(
			    call, "'--%s' is given twice", option_table[id].name);
		here |= OPTION_BIT(id);
		call->option[id] = value.text;
		call->unit[id] = value.unit;
	}
	return COMMAND_DONE;
}

/* `evensoak help [COMMAND]` is the same as `evensoak [COMMAND] --help`. */
static enum command_exit
run_help(struct call *call, int argc, char *const argv[])
{
	const struct command *command = argc > 2 ? find_command(argv[2]) : NULL;

	if (argc > 2 && !command && argv[2][0] != '-')
		return refuse_command(call, argv[2]);
	if (command)
		help_print(call->out, command);
	else
		help_print_overview(call->out);
	return COMMAND_DONE;
}

static enum command_exit
check_and_run(struct call *call)
{
	const struct command *command = call->command;
	enum command_exit code;

	if (!command)
		return command_usage(call, "which command?");
	for (int id = 0; id < OPTION_COUNT; id++)
		if (call->option[id] && !(command_options(command) & OPTION_BIT(id)))
			return command_usage(call, "'%s' has no option '--%s'",
			    command->name, option_table[id].name);
	if (call->argument_count < command->argument_least)
		return command_usage(
		    call, "'%s' needs %s", command->name, command->arguments);
	if ((code = read_format(call)) != COMMAND_DONE ||
	    (code = read_colour(call)) != COMMAND_DONE)
		return code;
	return command->run(call);
}

/* What is typed is filed, sent and shown: it is text, of one line. */
static enum command_exit
check_arguments(const struct call *call, int argc, char *const argv[])
{
	unsigned char byte;

	for (int i = 1; i < argc; i++)
		if (!utf8_is_plain(argv[i], &byte))
			return command_usage(call,
			    "argument %d has a control character in it, or is not "
			    "UTF-8 (byte 0x%02x)",
			    i, byte);
	return COMMAND_DONE;
}

enum command_exit
command_main(int argc, char *const argv[], FILE *out, FILE *err)
{
	struct call call = {.out = out, .err = err};

	numerics_start();
	if (check_arguments(&call, argc, argv) != COMMAND_DONE)
		return COMMAND_USAGE;
	if (argc > 1 && strcmp(argv[1], "help") == 0)
		return run_help(&call, argc, argv);
	enum command_exit code = read_line(&call, argc, argv);
	if (code != COMMAND_DONE)
		return code;
	if (call.option[OPTION_VERSION]) {
		fputs("evensoak " EVENSOAK_VERSION "\n", out);
		return COMMAND_DONE;
	}
	if (call.option[OPTION_HELP]) {
		if (call.command)
			help_print(out, call.command);
		else
			help_print_overview(out);
		return COMMAND_DONE;
	}
	return check_and_run(&call);
}
