/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <string.h>

#include "cli/command/calibrate_diffusivity.h"
#include "cli/command/calibrate_parts.h"
#include "cli/command/clock_options.h"
#include "cli/command/span.h"
#include "daemon/base/calendar.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"

enum { DAY_S = 24 * 60 * 60 };

#define ROW_OPTIONS                                                               \
	(OPTION_BIT(OPTION_AT) | OPTION_BIT(OPTION_DUE) | OPTION_BIT(OPTION_BY) | \
	    OPTION_BIT(OPTION_REFERENCE) | OPTION_BIT(OPTION_LINE))

enum { ENTER, OFFSETS, DIFFUSIVITY, PART_COUNT };

/* What a part takes, beside the options that every command does. */
static const struct {
	const char *name, *needs;
	int argument_least, argument_most;
	option_set options;
} parts[PART_COUNT] = {
    [ENTER] = {"enter", "DEVICE.CHANNEL", 2, 2,
	ROW_OPTIONS | OPTION_BIT(OPTION_AS_FOUND) | OPTION_BIT(OPTION_AS_LEFT)},
    [OFFSETS] = {"offsets", "[FILE]", 1, 2,
	ROW_OPTIONS | CLOCK_OPTIONS | OPTION_BIT(OPTION_FOR) | OPTION_BIT(OPTION_TRUE) |
	    OPTION_BIT(OPTION_DRY_RUN)},
    [DIFFUSIVITY] = {"diffusivity", "FILE", 2, 2, CALIBRATE_DIFFUSIVITY_OPTIONS},
};

/* --- what the parts share ----------------------------------------------------------- */

enum command_exit
calibrate_read_row(const struct call *call, struct ledger_calibration *row)
{
	struct calendar_date date;
	struct error error;

	row->entered = clock_wall();
	row->at = row->entered;
	row->by = call->option[OPTION_BY];
	row->reference = call->option[OPTION_REFERENCE];
	if (call->option[OPTION_AT]) {
		enum command_exit code = span_read_time(call, OPTION_AT, &row->at);
		if (code != COMMAND_DONE)
			return code;
	}
	if (row->at.ns - row->entered.ns > DAY_S * CLOCK_SECOND_NS)
		fprintf(call->err, "evensoak: note: '--at' is more than a day ahead: "
				   "shots until then are not corrected by it\n");
	if (!call->option[OPTION_DUE])
		return COMMAND_DONE;
	if (calendar_parse_date(call->option[OPTION_DUE], &date, &error) != 0)
		return command_usage(call, "'--due': %s", error.text);
	row->due = calendar_local(date, 0);
	if (row->due.ns <= row->at.ns)
		return command_usage(call, "'--due' is not after the calibration");
	return COMMAND_DONE;
}

enum command_exit
calibrate_put(const struct call *call, const struct session *session,
    struct ledger_calibration *rows, size_t count)
{
	struct error error;
	struct ledger *ledger = ledger_open(session->path, NULL, &error);
	if (!ledger)
		return command_cannot(call, &error);
	int code = ledger_put_calibrations(ledger, rows, count, &error);
	ledger_close(ledger);
	return code == 0               ? COMMAND_DONE
	       : code == ERROR_INVALID ? command_usage(call, "%s", error.text)
	                               : command_cannot(call, &error);
}

/* --- which part ----------------------------------------------------------------------- */

/* -1 without arguments, PART_COUNT after telling what is wrong. */
static int
read_part(const struct call *call, enum command_exit *code)
{
	const char *names[PART_COUNT];
	int part = -1;

	for (int i = 0; i < PART_COUNT && call->argument_count > 0; i++) {
		names[i] = parts[i].name;
		if (strcmp(call->argument[0], parts[i].name) == 0)
			part = i;
	}
	if (call->argument_count > 0 && part < 0) {
		const char *near = text_nearest(call->argument[0], names, PART_COUNT);
		*code = near ? command_usage(call,
				   "there is no 'calibrate %s'; did you mean '%s'?",
				   call->argument[0], near)
		             : command_usage(call,
				   "there is no 'calibrate %s', must be enter, offsets "
				   "or diffusivity",
				   call->argument[0]);
		return PART_COUNT;
	}
	*code = command_refuse_options(call, part < 0 ? "" : parts[part].name,
	    part < 0 ? OPTION_BIT(OPTION_LINE) : parts[part].options);
	if (*code == COMMAND_DONE && part >= 0 &&
	    (call->argument_count < parts[part].argument_least ||
		call->argument_count > parts[part].argument_most))
		*code = command_usage(call, "'calibrate %s' needs %s", parts[part].name,
		    parts[part].needs);
	return *code == COMMAND_DONE ? part : PART_COUNT;
}

static enum command_exit
run_offsets(const struct call *call)
{
	return call->option[OPTION_BY] ? session_run(call, calibrate_offsets)
	                               : session_run_set_up(call, calibrate_offsets);
}

static enum command_exit
run_calibrate(const struct call *call)
{
	enum command_exit code;

	switch (read_part(call, &code)) {
	case -1:
		return session_run(call, calibrate_list);
	case ENTER:
		return session_run(call, calibrate_enter);
	case OFFSETS:
		return run_offsets(call);
	case DIFFUSIVITY:
		return calibrate_diffusivity(call);
	default:
		return code;
	}
}

static const struct option_help help[] = {
    {OPTION_AT, "when it was done, local time: 2026-03-02T06:00; else now"},
    {OPTION_REFERENCE, "the instrument or way it was checked with"},
    {OPTION_FOR, "to read the line for so long, 5m or more; else 10m"},
    {OPTION_DRY_RUN, "enter nothing, only say what was found"},
    {0, NULL},
};

const struct command command_calibrate = {
    .name = "calibrate",
    .arguments = "[enter DEVICE.CHANNEL | offsets [FILE] | diffusivity FILE]",
    .summary = "how far sensors are off, and a sheet's diffusivity",
    .details =
	"Without arguments: every calibration entered. Exit 1: one is overdue.\n"
	"enter: what was found of a channel, as differences, shown minus true:\n"
	"--as-found 1.2 F --as-left 0.1 F --at 2026-03-02T06:00 --by NAME, and\n"
	"--due and --reference. Readings are corrected by as-left from --at\n"
	"until the channel's next calibration, as shots are made; shots on file\n"
	"by 'evensoak recompute'. What was read is never changed. To take one\n"
	"back enter another for the same --at: the later entered holds, both\n"
	"stay on record. As-left is 50 K at most, or half of the channel's\n"
	"minimum to maximum.\n"
	"offsets: of tool and water sensors, from a run with water alone: no\n"
	"sheet, no heat, the water running for half an hour. Reads the line\n"
	"beside the daemon, reading only, for --for (10m), or a CSV FILE of at\n"
	"least 5 min with the column t_s and one a channel, DEVICE.CHANNEL, in\n"
	"C, or in F where its title ends with ' F'. On each side tool sensors\n"
	"are held against their median and returns against theirs. What returns\n"
	"lie below the supply is heat lost to the hall: they are held against\n"
	"each other only when the water is within 2 K of the hall's air, as an\n"
	"ambient channel says, or all against --true. With --by they are\n"
	"entered, unless --dry-run. Exit 1: not steady, too short, or nothing\n"
	"to hold a sensor against.\n"
	"diffusivity: of a sheet with a thermocouple inside, from a CSV FILE\n"
	"with t_s, top_c, bottom_c and inside_c; lines for the set-up with\n"
	"--material. Exit 1: the model does not fit. The clock's options are\n"
	"for a simulated line.",
    .options = ROW_OPTIONS | CLOCK_OPTIONS | CALIBRATE_DIFFUSIVITY_OPTIONS |
               OPTION_BIT(OPTION_AS_FOUND) | OPTION_BIT(OPTION_AS_LEFT) |
               OPTION_BIT(OPTION_FOR) | OPTION_BIT(OPTION_TRUE) |
               OPTION_BIT(OPTION_DRY_RUN),
    .argument_most = 2,
    .csv_table = "calibrations",
    .help = help,
    .free = OPTION_BIT(OPTION_REFERENCE),
    .run = run_calibrate,
};
