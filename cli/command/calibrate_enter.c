/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_parts.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/command/number_option.h"
#include "cli/wording/shown.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

/* Under this nobody asks which shots it concerns. */
static const double nothing = 1e-6;

/* A thermometer that is left further off is no thermometer; beyond the second it is told.
 * Of other measures half of what the channel may show.  Common practice, no source. */
#define LEFT_MOST_DC 50.0
#define LEFT_MUCH_DC 5.0

struct entering {
	const struct session *session;
	size_t channel;
	enum dimension dimension, difference; /* of its readings, of two */
	struct ledger_calibration row;
	struct calibrate_held before; /* what held until then */
	int64_t shots;                /* filed since */
};

/* --- the command line ------------------------------------------------------------------- */

static enum command_exit
find_channel(const struct call *call, const struct session *session, size_t *found)
{
	const struct settings *settings = session->settings;
	const char *name = call->argument[1];
	int64_t channel = calibrate_find(settings, name);
	char near_name[CALIBRATE_NAME] = "";

	*found = channel >= 0 ? (size_t)channel : 0;
	if (channel >= 0)
		return COMMAND_DONE;
	for (size_t i = 0; i < settings->channel_count && !*near_name; i++) {
		char known[CALIBRATE_NAME];
		const char *one = known;
		calibrate_name(settings, i, known);
		if (text_nearest(name, &one, 1))
			text_copy(near_name, sizeof near_name, known);
	}
	return command_usage(call, "there is no channel '%s'%s%s%s", name,
	    *near_name ? "; did you mean '" : ", write DEVICE.CHANNEL", near_name,
	    *near_name ? "'?" : "");
}

static enum command_exit
read_channel(const struct call *call, struct entering *entering)
{
	const struct settings *settings = entering->session->settings;
	enum command_exit code =
	    find_channel(call, entering->session, &entering->channel);
	int line;

	if (code != COMMAND_DONE)
		return code;
	const struct channel_settings *channel = &settings->channels[entering->channel];
	const struct device_settings *device = &settings->devices[channel->device];
	code = session_line(entering->session, call, &line);
	if (code != COMMAND_DONE)
		return code;
	if (line >= 0 && (uint32_t)line != device->line)
		return command_usage(call, "'%s' is a channel of line %s",
		    call->argument[1], settings->lines[device->line].name);
	if (channel->dimension == DIMENSION_NONE)
		return command_usage(call,
		    "'%s' is no measure: there is nothing to calibrate",
		    call->argument[1]);
	entering->dimension = channel->dimension;
	entering->difference = channel->dimension == DIMENSION_TEMPERATURE
	                           ? DIMENSION_TEMPERATURE_DIFFERENCE
	                           : channel->dimension;
	entering->row.line = settings->lines[device->line].name;
	entering->row.device = device->name;
	entering->row.channel = channel->name;
	return COMMAND_DONE;
}

static enum command_exit
check_left(const struct call *call, const struct entering *entering)
{
	const struct settings *settings = entering->session->settings;
	const struct channel_settings *channel = &settings->channels[entering->channel];
	bool temperature = entering->dimension == DIMENSION_TEMPERATURE;
	double range = channel->max_si - channel->min_si;
	double most = temperature ? LEFT_MOST_DC : range / 2;
	enum unit unit = unit_shown(entering->difference, settings->temperature);

	/* unchecked: the bound is infinite */
	if (fabs(entering->row.as_left) <= most)
		return COMMAND_DONE;
	return command_usage(call,
	    "'--as-left' is %.4g %s, must be %.4g %s at most%s: a sensor that is that "
	    "far off is replaced, not corrected",
	    unit_from_si(unit, entering->difference, entering->row.as_left),
	    unit_text(unit), unit_from_si(unit, entering->difference, most),
	    unit_text(unit),
	    temperature ? "" : ", half of the channel's minimum to maximum");
}

static enum command_exit
read_row(const struct call *call, struct entering *entering)
{
	struct ledger_calibration *row = &entering->row;
	enum command_exit code = read_channel(call, entering);

	if (code != COMMAND_DONE ||
	    (code = measure_option(call, OPTION_AS_FOUND, entering->difference,
		 &row->as_found)) != COMMAND_DONE ||
	    (code = measure_option(call, OPTION_AS_LEFT, entering->difference,
		 &row->as_left)) != COMMAND_DONE)
		return code;
	if (isnan(row->as_left))
		return command_usage(call,
		    "say how far it was left off: --as-left 0.1 %s; where nothing was "
		    "set right that is --as-found",
		    unit_text(unit_shown(entering->difference,
			entering->session->settings->temperature)));
	if ((code = check_left(call, entering)) != COMMAND_DONE)
		return code;
	if (!call->option[OPTION_BY] || !*call->option[OPTION_BY])
		return command_usage(call, "say who did it: --by NAME");
	return calibrate_read_row(call, row);
}

/* --- what it means ------------------------------------------------------------------------ */

static int
count_shot(void *arg, const struct ledger_shot *shot)
{
	(void)shot;
	++*(int64_t *)arg;
	return 0;
}

static int
read_before(struct entering *entering, struct error *error)
{
	static const int none;
	const struct session *session = entering->session;
	struct calibrate_held *held =
	    calloc(session->settings->channel_count, sizeof *held);

	if (!held)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code = calibrate_state_read(
	    held, session->ledger, session->settings, -1, entering->row.at, error);
	entering->before = held[entering->channel];
	free(held);
	const struct ledger_filter filter = {
	    .line = entering->row.line,
	    .from = entering->row.at,
	    .by_time = true,
	    .features = &none,
	    .values_only = true,
	};
	return code != 0 ? code
	                 : ledger_read_shots(session->ledger, &filter, false,
			       count_shot, &entering->shots, error);
}

/* Shots since the calibration before were corrected by what was left then. */
static void
put_doubt(struct page *page, const struct entering *entering)
{
	const struct settings *settings = entering->session->settings;
	const struct calibrate_held *before = &entering->before;
	double known = before->id != 0 ? before->as_left : 0;
	double off = fabs(entering->row.as_found - known);
	char from[CALENDAR_TEXT];

	if (!(off > nothing))
		return;
	struct cell cell = shown_channel_deviation(settings, entering->dimension, off);
	const char *unit =
	    unit_text(unit_shown(entering->difference, settings->temperature));
	calendar_local_text(before->at, from);
	page_note(page, "doubt", TONE_BAD,
	    "Shots since %s%s and before this may be off by up to %.*f %s in what "
	    "rests on it: nobody knows when it began.",
	    before->id != 0 ? "the calibration of " : "logging began",
	    before->id != 0 ? from : "", cell.digits, cell.shown, unit);
}

static void
put_much(struct page *page, const struct entering *entering)
{
	const struct settings *settings = entering->session->settings;
	double left = entering->row.as_left;

	if (entering->dimension != DIMENSION_TEMPERATURE ||
	    !(fabs(left) > LEFT_MUCH_DC))
		return;
	struct cell cell =
	    shown_channel_deviation(settings, entering->dimension, fabs(left));
	page_note(page, "much", TONE_BAD,
	    "%.1f %s is much to correct a sensor by: is it a difference, shown minus "
	    "true? To take it back enter another for the same --at.",
	    cell.shown,
	    unit_text(unit_shown(entering->difference, settings->temperature)));
}

static void
put_effect(struct page *page, const struct entering *entering)
{
	const struct ledger_calibration *row = &entering->row;
	char from[CALENDAR_TEXT];

	calendar_local_text(row->at, from);
	page_note(page, NULL, TONE_PLAIN,
	    "as-left (shown minus true) is taken from its readings from %s on, until "
	    "the channel's next calibration; what was read is never changed.",
	    from);
	if (entering->shots == 0)
		return;
	char *blank = strchr(from, ' '); /* as the option reads it */
	if (blank)
		*blank = 'T';
	page_note(page, NULL, TONE_PLAIN,
	    "%" PRId64 " shots on file are from then on; for those that were made "
	    "without it: evensoak recompute --line %s --from %s",
	    entering->shots, row->line, from);
}

static enum command_exit
tell(const struct call *call, const struct entering *entering)
{
	const struct settings *settings = entering->session->settings;
	const struct ledger_calibration *row = &entering->row;
	enum unit unit = unit_shown(entering->difference, settings->temperature);
	char name[CALIBRATE_NAME], found[40], left[40];
	struct page *page = command_page(call);

	if (!page)
		return COMMAND_CANNOT;
	calibrate_name(settings, entering->channel, name);
	snprintf(found, sizeof found, "as found, %s", unit_text(unit));
	snprintf(left, sizeof left, "as left, %s", unit_text(unit));
	page_field(page, "line", "line", cell_words(row->line));
	page_field(page, "channel", "channel", cell_words(name));
	page_field(page, "at", "from", cell_time(row->at));
	page_field(page, "as_found", found,
	    shown_channel_deviation(settings, entering->dimension, row->as_found));
	page_field(page, "as_left", left,
	    shown_channel_deviation(settings, entering->dimension, row->as_left));
	page_field(page, "unit", NULL, cell_words(unit_si_text(entering->difference)));
	page_field(page, "due", "due", cell_time(row->due));
	page_field(page, "reference", "reference",
	    shown_name(row->reference ? row->reference : ""));
	page_field(page, "by", "by", cell_words(row->by));
	page_field(page, "shots_since", "shots on file since then",
	    cell_count(entering->shots));
	put_much(page, entering);
	put_effect(page, entering);
	put_doubt(page, entering);
	return command_end_page(call, page, COMMAND_DONE);
}

enum command_exit
calibrate_enter(const struct call *call, const struct session *session)
{
	struct entering entering = {.session = session};
	struct error error;
	enum command_exit code = read_row(call, &entering);

	if (code != COMMAND_DONE)
		return code;
	if (read_before(&entering, &error) != 0)
		return command_cannot(call, &error);
	code = calibrate_put(call, session, &entering.row, 1);
	return code == COMMAND_DONE ? tell(call, &entering) : code;
}
