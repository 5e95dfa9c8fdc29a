/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The commands of the program `evensoak`: their table, their help, how one is called.
 *
 * A command reads its call, writes to `out`, tells trouble to `err` and returns an exit
 * code.  One thread.  The process's time zone becomes the site's.
 */
#ifndef CLI_COMMAND_COMMAND_H
#define CLI_COMMAND_COMMAND_H

#include "cli/command/option.h"
#include "cli/page/page.h"

#include <stdbool.h>
#include <stdio.h>

struct error;

enum command_exit {
	COMMAND_DONE = 0,
	COMMAND_NO = 1,     /* the answer is no, or nothing is there */
	COMMAND_USAGE = 2,  /* the command line cannot be meant */
	COMMAND_CANNOT = 3, /* no ledger, no permission */
};

enum { COMMAND_ARGUMENTS = 4 };

struct call {
	const struct command *command;
	const char *option[OPTION_COUNT]; /* NULL: not given */
	const char *unit[OPTION_COUNT];   /* of a measure, where it is its own word */
	const char *argument[COMMAND_ARGUMENTS];
	int argument_count;
	enum page_format format;
	bool colour;
	FILE *out, *err;
};

/* In place of option_table's. */
struct option_help {
	enum option_id option;
	const char *help;
};

struct command {
	const char *name;
	const char
	    *arguments;      /* "[NUMBER]", "[freeze NAME | show RUN]": what is typed as
	                          it stands is lower case; completion knows FILE, STORE,
	                          RUN, CHANNEL, RECIPE, TOOL and LOT */
	const char *summary; /* one line */
	const char *details; /* sentences */
	option_set options;  /* beside OPTIONS_COMMON */
	int argument_least, argument_most;
	const char *csv_table; /* the table that --format csv writes */
	bool
	    pages; /* --format html, pdf, svg and png, and --picture: its page has pictures */
	const char
	    *own_format; /* the one that it has; it reads --format itself.  NULL: it
	                           has those of pages */
	/* What options mean here, where the table's help says otherwise; NULL: nowhere, the
	 * last has no help. */
	const struct option_help *help;
	option_set free; /* options whose value is of no list here */
	enum command_exit (*run)(const struct call *call);
};

extern const struct command command_check, command_status, command_shots, command_shot,
    command_context, command_report, command_recompute, command_soak, command_watch,
    command_calibrate, command_reference, command_registers, command_export,
    command_resend, command_backup, command_trend, command_hold, command_compare,
    command_capability, command_close_shifts;

/* The table, from 0 on; NULL behind its end. */
const struct command *command_at(int place);

/* The whole program, apart from closing `out`. */
enum command_exit command_main(int argc, char *const argv[], FILE *out, FILE *err);

/* Tells a sentence: one line that steers no terminal, whatever names and answers are in it. */
void command_tell(const struct call *call, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
/* The same, and returns the code: wrong usage also says where the help is. */
enum command_exit command_usage(const struct call *call, const char *format, ...)
    __attribute__((format(printf, 2, 3)));
enum command_exit command_cannot(const struct call *call, const struct error *error);

/* Refuses options that the command takes but not this part of it ("": without one). */
enum command_exit command_refuse_options(
    const struct call *call, const char *part, option_set allowed);

/* A page on `out` in the format asked for; NULL, and told, when memory is short. */
struct page *command_page(const struct call *call);

/* The same with another table for CSV than the command's own. */
struct page *command_page_of(const struct call *call, const char *csv_table);

/* Completes the page: `code`, or COMMAND_CANNOT when something was lost; where a picture
 * alone was asked for and is not there, COMMAND_USAGE with the names of those that are, or
 * COMMAND_NO when there is none at all. */
enum command_exit command_end_page(
    const struct call *call, struct page *page, enum command_exit code);

#endif
