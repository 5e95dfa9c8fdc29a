/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/context_lot.h"
#include "cli/command/found.h"
#include "cli/command/remark.h"
#include "cli/command/session.h"
#include "cli/command/shot_calibrated.h"
#include "cli/command/shot_earlier.h"
#include "cli/command/shot_inside.h"
#include "cli/command/shot_way.h"
#include "cli/wording/shown.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct part {
	const struct session *session;
	const struct settings *settings;
	const struct shot_calibrated *calibrated;
	struct page *page;
};

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	*(struct ledger_shot *)arg = *shot;
	return 1;
}

/* For machines: people read the way. */
static void
put_times(struct page *page, const struct ledger_shot *shot)
{
	page_field(page, "loaded_at", NULL, cell_time(shot->loaded_at));
	page_field(page, "heat_start_at", NULL, cell_time(shot->heat_start_at));
	page_field(page, "heat_end_at", NULL, cell_time(shot->heat_end_at));
	page_field(page, "form_start_at", NULL, cell_time(shot->form_start_at));
	page_field(page, "form_end_at", NULL, cell_time(shot->form_end_at));
	page_field(page, "closed_at", NULL, cell_time(shot->closed_at));
	page_field(page, "uncertainty_s", NULL, cell_number(shot->uncertainty_s, 2));
}

/* What the shot was made with: its lot as measured, the machine's settings, the set-up. */
static int
put_origin(struct page *page, const struct session *session,
    const struct ledger_shot *shot, struct error *error)
{
	struct ledger_lot lot = {.thickness_m = NAN, .stack_c = NAN};
	char hash[24];
	int code =
	    *shot->lot ? ledger_read_lot(session->ledger, shot->lot, &lot, error) : 0;

	snprintf(hash, sizeof hash, "%016" PRIx64, shot->set_points);
	context_lot_fields(page, session->settings, &lot);
	page_field(page, "set_points", shot->set_points ? "set points' hash" : NULL,
	    shot->set_points ? cell_words(hash) : cell_absent(NULL));
	page_field(page, "setup", "set-up", cell_count(shot->setup));
	return code;
}

/* The time by which it is filed, and what that is of it. */
static void
put_time(struct page *page, const struct ledger_shot *shot)
{
	char clock[CALENDAR_TEXT], words[CALENDAR_TEXT + 32];
	struct cell at = cell_time(shot->filed_at);

	calendar_local_text(shot->filed_at, clock);
	snprintf(words, sizeof words, "%s, %s", clock,
	    shot->form_start_at.ns ? "platens closed"
	    : shot->heat_end_at.ns ? "as it left the oven"
				   : "as it left");
	at.instead = words;
	page_field(page, "filed_at", "at", at);
}

static void
put_head(struct page *page, const struct ledger_shot *shot)
{
	char flags[SHOWN_FLAGS], words[REMARK_TEXT];
	struct cell outcome = cell_words(shot_outcome_text(shot->outcome));

	shown_flags(shot->flags, flags);
	remark_flags(shot->flags, words);
	struct cell odd = shown_name(flags);
	odd.instead = *words ? words : NULL;
	outcome.tone = shot->outcome == SHOT_COMPLETE ? TONE_GOOD : TONE_BAD;
	page_field(page, "line", "line", cell_words(shot->line));
	page_field(page, "shot_no", "shot", cell_count(shot->shot_no));
	put_time(page, shot);
	page_field(page, "outcome", "outcome", outcome);
	page_field(page, "reason", "reason", shown_name(shot->reason));
	page_field(page, "flags", "flags", odd);
	page_field(page, "side", *shot->side ? "side" : NULL, shown_name(shot->side));
	page_field(page, "recipe", "recipe", shown_name(shot->recipe));
	page_field(page, "tool", "tool", shown_name(shot->tool));
	page_field(page, "lot", "lot", shown_name(shot->lot));
	page_field(page, "material", "material", shown_name(shot->material));
	page_field(page, "cycle_count", "machine's count",
	    shot->cycle_count >= 0 ? cell_count(shot->cycle_count) : cell_absent(NULL));
	put_times(page, shot);
}

/* Features that the line has no channels for are left out; people have read some of them
 * with the inside. */
static void
put_features(struct page *page, const struct settings *settings,
    const struct ledger_shot *shot, bool for_people)
{
	static const struct column columns[] = {
	    {"feature", "feature", 0},
	    {"value", "value", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"absent", NULL, 0},
	    {"version", NULL, 0},
	    {"meaning", "meaning", 0},
	};

	page_table(page, "features", "Features", columns, COUNT(columns));
	for (int id = 0; id < FEATURE_COUNT; id++) {
		const struct feature *feature = feature_get(id);
		enum absent why = (enum absent)shot->absent[id];
		bool there = isfinite(shot->value[id]);
		if ((!there && why == ABSENT_NOT_CONFIGURED) ||
		    (for_people && shot_inside_shows(shot, id)))
			continue;
		const struct cell cells[] = {
		    cell_words(feature->name),
		    there ? shown_value(settings, id, shot->value[id])
			  : cell_absent(absent_text(why)),
		    cell_words(feature_unit_text(id)),
		    cell_words(shown_unit(settings, id)),
		    there ? cell_absent(NULL) : cell_words(absent_text(why)),
		    cell_count(feature->version),
		    cell_words(feature->meaning),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static enum dimension
dimension_of(const struct settings *settings, const struct ledger_channel *channel)
{
	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *known = &settings->channels[i];
		if (strcmp(known->name, channel->channel) == 0 &&
		    strcmp(settings->devices[known->device].name, channel->device) == 0)
			return known->dimension;
	}
	return DIMENSION_NONE;
}

static int
take_channel(void *arg, const struct ledger_channel *channel)
{
	const struct part *part = arg;
	const struct settings *settings = part->settings;
	enum dimension dimension = dimension_of(settings, channel);
	const char *why = absent_text(channel->absent);
	char name[2 * LEDGER_NAME];

	snprintf(name, sizeof name, "%s.%s", channel->device, channel->channel);
	struct cell mean = shown_channel(settings, dimension, channel->mean);
	if (mean.kind == CELL_ABSENT)
		mean.words = why;
	const struct cell cells[] = {
	    cell_words(name),
	    cell_words(channel->role),
	    mean,
	    shown_channel_deviation(settings, dimension, channel->sd),
	    shown_channel(settings, dimension, channel->min),
	    shown_channel(settings, dimension, channel->max),
	    shown_channel(settings, dimension, channel->last),
	    cell_words(unit_si_text(dimension)),
	    cell_words(unit_text(unit_shown(dimension, settings->temperature))),
	    shown_channel(settings, DIMENSION_RATIO, channel->coverage),
	    shown_channel_deviation(settings, dimension,
		shot_calibrated_correction(part->calibrated, part->session, name)),
	    shown_name(why),
	};
	page_row(part->page, cells);
	return 0;
}

static int
put_channels(struct page *page, const struct session *session, int64_t shot_id,
    const struct shot_calibrated *calibrated, struct error *error)
{
	const struct column columns[] = {
	    {"channel", "channel", 0},
	    {"role", "role", 0},
	    {"mean", "mean", 0},
	    {"sd", "s", 0},
	    {"min", "min", 0},
	    {"max", "max", 0},
	    {"last", "last", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"coverage_ratio", "coverage %", 0},
	    {"correction", calibrated->known > 0 ? "corrected by" : NULL, 0},
	    {"absent", NULL, 0},
	};
	struct part part = {session, session->settings, calibrated, page};

	page_table(page, "channels",
	    "Channels: surfaces and zones over the heat, the others over the form",
	    columns, COUNT(columns));
	int code =
	    ledger_read_channels(session->ledger, shot_id, take_channel, &part, error);
	page_table_end(page);
	return code;
}

/* What its readings were corrected by, then the channels so corrected. */
static int
put_corrected(struct page *page, const struct session *session,
    const struct ledger_shot *shot, struct error *error)
{
	struct shot_calibrated calibrated = {0};
	int code = shot_calibrated_read(&calibrated, session, shot, error);

	if (code == 0) {
		shot_calibrated_put(page, &calibrated, session, shot);
		code = put_channels(page, session, shot->id, &calibrated, error);
	}
	shot_calibrated_release(&calibrated);
	return code;
}

/* What it and the shots around it do otherwise than a reference run. */
static int
put_findings(struct page *page, const struct call *call, const struct session *session,
    const struct ledger_shot *shot, struct error *error)
{
	const struct found_asked asked = {
	    .line = settings_find_line(session->settings, shot->line),
	    .reference = call->option[OPTION_REFERENCE],
	};
	struct found_all all;
	int code = found_read_shot(&all, session, &asked, shot, error);

	if (code == 0 && call->option[OPTION_FINDINGS] && call->format == PAGE_CSV)
		found_put_table(page, session, &all, asked.line);
	else if (code == 0)
		found_put(page, session, &all, asked.line, true);
	found_release(&all);
	return code;
}

static enum command_exit
show_shot(const struct call *call, const struct session *session,
    const struct ledger_shot *shot)
{
	const bool readings = call->option[OPTION_TRACE] != NULL;
	const struct shot_way way = {session, shot, readings};
	struct error error;
	const bool set_ups = call->option[OPTION_SET_UP] != NULL;
	const char *table = readings                        ? "trace"
	                    : set_ups                       ? "set_up_lines"
	                    : call->option[OPTION_FINDINGS] ? "findings_table"
	                                                    : call->command->csv_table;
	struct page *page = command_page_of(call, table);

	if (!page)
		return COMMAND_CANNOT;
	put_head(page, shot);
	int code = put_origin(page, session, shot, &error);
	if (code == 0)
		code = put_findings(page, call, session, shot, &error);
	if (code == 0)
		code = shot_way_put(page, &way, &error);
	shot_inside_put(page, session->settings, shot);
	put_features(page, session->settings, shot, call->format == PAGE_TEXT);
	if (code == 0)
		code = shot_earlier_put(page, session, shot, set_ups, &error);
	if (code == 0)
		code = put_corrected(page, session, shot, &error);
	return command_end_page(
	    call, page, code != 0 ? command_cannot(call, &error) : COMMAND_DONE);
}

static enum command_exit
find_and_show(const struct call *call, const struct session *session)
{
	struct ledger_shot shot = {0};
	struct error error;
	int64_t number;
	int line;

	if (!text_integer(call->argument[0], &number) || number < 1)
		return command_usage(call, "'%s' is no shot number", call->argument[0]);
	enum command_exit code = session_one_line(session, call, &line);
	if (code == COMMAND_DONE)
		code = found_check(call, session);
	if (code != COMMAND_DONE)
		return code;
	const char *name = session->settings->lines[line].name;
	const struct ledger_filter filter = {.line = name, .shot_no = number};
	if (ledger_read_shots(
		session->ledger, &filter, true, take_shot, &shot, &error) != 0)
		return command_cannot(call, &error);
	if (shot.shot_no != number) {
		fprintf(call->err, "evensoak: there is no shot %lld of line %s\n",
		    (long long)number, name);
		return COMMAND_NO;
	}
	return show_shot(call, session, &shot);
}

static enum command_exit
run_shot(const struct call *call)
{
	return session_run(call, find_and_show);
}

const struct command command_shot = {
    .name = "shot",
    .arguments = "NUMBER",
    .summary = "everything on file about one shot",
    .details = "What it and the shots around it do otherwise than a reference run\n"
	       "(the newest of its kind, or the one that --reference names); its\n"
	       "way through the machine with what is certain of each duration; its\n"
	       "course in some 20 rows, while its trace is kept; the inside of the\n"
	       "sheet and the water, computed; its features with their meaning or\n"
	       "why they are absent; what the features were before they were made\n"
	       "again and under which set-up, the calibrations that hold for\n"
	       "it and whether it was made with them, and its channels.\n"
	       "With --trace, csv and json have every reading. --set-up shows what\n"
	       "differs between the set-ups that it was made under.",
    .options = OPTION_BIT(OPTION_LINE) | OPTION_BIT(OPTION_TRACE) |
               OPTION_BIT(OPTION_SET_UP) | OPTION_BIT(OPTION_REFERENCE) |
               OPTION_BIT(OPTION_FINDINGS),
    .argument_least = 1,
    .argument_most = 1,
    .csv_table = "features",
    .run = run_shot,
};
