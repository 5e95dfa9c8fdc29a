/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_parts.h"

#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/wording/shown.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger_read.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { DAY = sizeof "2026-03-02" - 1 };

struct listing {
	const struct session *session;
	struct page *page;
	const struct calibrate_held *held;
	struct wall now;
	int64_t rows, overdue;
};

/* The channel of the set-up that a row is about; -1: it is not in there any more. */
static int64_t
channel_of(const struct settings *settings, const struct ledger_calibration *row)
{
	char name[CALIBRATE_NAME];

	snprintf(name, sizeof name, "%s.%s", row->device, row->channel);
	int64_t channel = calibrate_find(settings, name);
	if (channel < 0)
		return -1;
	uint32_t line = settings->devices[settings->channels[channel].device].line;
	return strcmp(settings->lines[line].name, row->line) == 0 ? channel : -1;
}

static const char *
state_of(const struct listing *listing, const struct ledger_calibration *row,
    int64_t channel)
{
	if (channel < 0)
		return "no such channel";
	if (row->at.ns > listing->now.ns)
		return "to come";
	if (listing->held[channel].id != row->id)
		return "replaced";
	return calibrate_is_overdue(row->due, listing->now) ? "overdue" : "holds";
}

/* Before it is entered a time is only a day. */
static struct cell
day_cell(struct wall wall, char text[static CALENDAR_TEXT])
{
	struct cell cell = cell_time(wall);

	if (wall.ns == 0)
		return cell;
	calendar_local_text(wall, text);
	text[DAY] = '\0';
	cell.instead = text;
	return cell;
}

static int
take_row(void *arg, const struct ledger_calibration *row)
{
	struct listing *listing = arg;
	const struct settings *settings = listing->session->settings;
	int64_t channel = channel_of(settings, row);
	enum dimension dimension =
	    channel < 0 ? DIMENSION_TEMPERATURE : settings->channels[channel].dimension;
	const char *state = state_of(listing, row, channel);
	bool overdue = strcmp(state, "overdue") == 0;
	char due[CALENDAR_TEXT], name[CALIBRATE_NAME];
	struct cell told = cell_words(state);
	enum dimension difference = dimension == DIMENSION_TEMPERATURE
	                                ? DIMENSION_TEMPERATURE_DIFFERENCE
	                                : dimension;

	snprintf(name, sizeof name, "%s.%s", row->device, row->channel);
	told.tone = overdue ? TONE_BAD : TONE_PLAIN;
	const struct cell cells[] = {
	    cell_words(row->line),
	    cell_words(name),
	    cell_time(row->at),
	    shown_channel_deviation(settings, dimension, row->as_found),
	    shown_channel_deviation(settings, dimension, row->as_left),
	    cell_words(unit_si_text(difference)),
	    cell_words(unit_text(unit_shown(difference, settings->temperature))),
	    day_cell(row->due, due),
	    told,
	    shown_name(row->reference ? row->reference : ""),
	    shown_name(row->by ? row->by : ""),
	    cell_time(row->entered),
	};
	page_row(listing->page, cells);
	listing->rows++;
	listing->overdue += overdue;
	return 0;
}

static void
put_states(struct listing *listing, int line)
{
	const struct settings *settings = listing->session->settings;
	char words[CALIBRATE_WORDS];

	for (size_t i = 0; i < settings->line_count; i++) {
		if (line >= 0 && (size_t)line != i)
			continue;
		calibrate_words(settings, (int)i, listing->held, listing->now, words);
		page_note(listing->page, NULL, TONE_PLAIN, "%s: calibrated: %s",
		    settings->lines[i].name, words);
	}
}

static int
put_list(struct listing *listing, int line, struct error *error)
{
	const struct session *session = listing->session;
	const char *name = line >= 0 ? session->settings->lines[line].name : NULL;
	const struct column columns[] = {
	    {"line", session->settings->line_count > 1 ? "line" : NULL, 0},
	    {"channel", "channel", 0},
	    {"at", "from", 0},
	    {"as_found", "as found", 0},
	    {"as_left", "as left", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"due", "due", 0},
	    {"state", "state", 0},
	    {"reference", "reference", 0},
	    {"by", "by", 0},
	    {"entered", NULL, 0},
	};

	page_table(listing->page, "calibrations",
	    "Calibrations: shown minus true, as found and as left", columns,
	    COUNT(columns));
	int code =
	    ledger_read_calibrations(session->ledger, name, take_row, listing, error);
	page_table_end(listing->page);
	if (code == 0)
		put_states(listing, line);
	return code;
}

enum command_exit
calibrate_list(const struct call *call, const struct session *session)
{
	const struct settings *settings = session->settings;
	struct error error;
	int line;
	enum command_exit code = session_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	struct calibrate_held *held = calloc(settings->channel_count + 1, sizeof *held);
	struct listing listing = {
	    .session = session, .held = held, .now = clock_wall()};
	if (!held)
		error_set(&error, ERROR_MEMORY, "out of memory");
	if (!held || calibrate_state_read(held, session->ledger, settings, line,
			 listing.now, &error) != 0) {
		free(held);
		return command_cannot(call, &error);
	}
	listing.page = command_page(call);
	if (!listing.page) {
		free(held);
		return COMMAND_CANNOT;
	}
	code = put_list(&listing, line, &error) != 0 ? command_cannot(call, &error)
	       : listing.overdue > 0                 ? COMMAND_NO
	                                             : COMMAND_DONE;
	free(held);
	return command_end_page(call, listing.page, code);
}
