/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/span.h"

#include <stdio.h>
#include <string.h>

#include "cli/source/source.h"
#include "conf/shift.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum {
	DAY_MINUTES = 24 * 60,
	DAYS_BACK = 14, /* how far a shift without a date is looked for */
};

bool
span_parse_seconds(const char *text, double *seconds)
{
	static const struct {
		char letter;
		double seconds;
	} units[] = {{'s', 1}, {'m', 60}, {'h', 3600}, {'d', 86400}};
	char number[24];
	size_t length = strlen(text);
	double value;

	if (length < 2 || length > sizeof number)
		return false;
	text_copy(number, length, text); /* without the last letter */
	if (!text_number(number, &value) || !(value > 0) || value > 1e5)
		return false;
	for (size_t i = 0; i < sizeof units / sizeof units[0]; i++)
		if (text[length - 1] == units[i].letter) {
			*seconds = value * units[i].seconds;
			return true;
		}
	return false;
}

static int
take_time(void *arg, const struct ledger_shot *shot)
{
	*(struct wall *)arg = shot->filed_at;
	return 1;
}

/* When the newest shot was filed; ns 0 when there is none. */
static int
newest(const struct session *session, const char *line, struct wall *at,
    struct error *error)
{
	const struct ledger_filter filter = {
	    .line = line, .limit = 1, .newest_first = true};

	at->ns = 0;
	return source_read_shots(session->source, &filter, false, take_time, at, error);
}

static void
date_text(struct calendar_date date, char text[static CALENDAR_TEXT])
{
	snprintf(
	    text, CALENDAR_TEXT, "%04d-%02d-%02d", date.year, date.month, date.day);
}

static void
set_shift(struct span *span, const struct shift_span *shift)
{
	char date[CALENDAR_TEXT];

	date_text(shift->date, date);
	span->from = shift->from;
	span->to = shift->to;
	text_copy(span->shift, sizeof span->shift, shift->shift->name);
	snprintf(span->title, sizeof span->title, "shift %s of %s", span->shift, date);
}

static void
set_day(struct span *span, struct calendar_date day)
{
	char date[CALENDAR_TEXT];

	date_text(day, date);
	span->from = calendar_local(day, 0);
	span->to = calendar_local(day, DAY_MINUTES);
	snprintf(span->title, sizeof span->title, "the day %s", date);
}

/* The latest shift of that name which had begun when the newest shot was filed. */
static enum command_exit
latest_of_name(struct span *span, const struct session *session,
    const struct call *call, const char *line)
{
	const char *name = call->option[OPTION_SHIFT];
	struct shift_span shift;
	struct wall at;
	struct error error;

	if (newest(session, line, &at, &error) != 0)
		return command_cannot(call, &error);
	if (at.ns == 0)
		at = clock_wall();
	struct calendar_date day = calendar_date_of(at);
	for (int back = 0; back < DAYS_BACK; back++) {
		struct calendar_date date = calendar_date_add(day, -back);
		if (shift_find(session->settings, name, date, &shift, &error) == 0 &&
		    shift.from.ns <= at.ns) {
			set_shift(span, &shift);
			return COMMAND_DONE;
		}
	}
	return command_usage(call, "%s", error.text);
}

static enum command_exit
read_shift(struct span *span, const struct session *session, const struct call *call,
    const char *line)
{
	const char *name = call->option[OPTION_SHIFT];
	const char *day = call->option[OPTION_DATE];
	struct calendar_date date;
	struct shift_span shift;
	struct error error;

	if (!day)
		return latest_of_name(span, session, call, line);
	if (calendar_parse_date(day, &date, &error) != 0)
		return command_usage(call, "'--date': %s", error.text);
	if (!name) {
		set_day(span, date);
		return COMMAND_DONE;
	}
	if (shift_find(session->settings, name, date, &shift, &error) != 0)
		return command_usage(call, "%s", error.text);
	set_shift(span, &shift);
	return COMMAND_DONE;
}

static enum command_exit
read_since(struct span *span, const struct call *call)
{
	const char *since = call->option[OPTION_SINCE];
	double seconds;

	if (!span_parse_seconds(since, &seconds))
		return command_usage(
		    call, "'--since' is '%s', must be like 7d, 12h or 90m", since);
	span->from.ns = clock_wall().ns - (int64_t)(seconds * 1e9);
	snprintf(span->title, sizeof span->title, "the last %.20s", since);
	return COMMAND_DONE;
}

/* Whether the local clock shows the same once more: it is put back by an hour, in a few
 * zones by half an hour. */
static bool
comes_twice(struct wall wall)
{
	static const int later_s[] = {3600, 1800};
	char first[CALENDAR_TEXT], second[CALENDAR_TEXT];

	calendar_local_text(wall, first);
	for (size_t i = 0; i < sizeof later_s / sizeof later_s[0]; i++) {
		struct wall later = {wall.ns + later_s[i] * CLOCK_SECOND_NS};
		calendar_local_text(later, second);
		if (strcmp(first, second) == 0)
			return true;
	}
	return false;
}

enum command_exit
span_read_time(const struct call *call, enum option_id option, struct wall *wall)
{
	const char *text = call->option[option], *name = option_table[option].name;
	char taken[CALENDAR_TEXT];
	struct error error;

	if (calendar_parse(text, wall, &error) != 0)
		return command_usage(call, "'--%s': %s", name, error.text);
	if (text[strlen(text) - 1] != 'Z' && comes_twice(*wall)) {
		calendar_utc_text(*wall, 0, taken);
		fprintf(call->err,
		    "evensoak: note: '--%s': the clocks are put back over '%s': the "
		    "first one is taken, %s\n",
		    name, text, taken);
	}
	return COMMAND_DONE;
}

static enum command_exit
read_bounds(struct span *span, const struct call *call)
{
	const char *from = call->option[OPTION_FROM], *to = call->option[OPTION_TO];
	char from_text[CALENDAR_TEXT], to_text[CALENDAR_TEXT];
	enum command_exit code = COMMAND_DONE;

	if (from)
		code = span_read_time(call, OPTION_FROM, &span->from);
	if (to && code == COMMAND_DONE)
		code = span_read_time(call, OPTION_TO, &span->to);
	if (code != COMMAND_DONE)
		return code;
	if (from && to && span->from.ns >= span->to.ns)
		return command_usage(call, "'--to' is not after '--from'");
	calendar_local_text(span->from, from_text);
	calendar_local_text(span->to, to_text);
	snprintf(span->title, sizeof span->title, "%s%s%s%s%s", from ? "from " : "",
	    from ? from_text : "", from && to ? " " : "", to ? "until " : "",
	    to ? to_text : "");
	return COMMAND_DONE;
}

enum command_exit
span_read(struct span *span, const struct session *session, const struct call *call,
    const char *line)
{
	bool shift = call->option[OPTION_SHIFT] || call->option[OPTION_DATE];
	bool bounds = call->option[OPTION_FROM] || call->option[OPTION_TO];
	bool since = call->option[OPTION_SINCE];

	*span = (struct span){.given = shift || bounds || since};
	if (shift + bounds + since > 1)
		return command_usage(call, "say the time one way: --shift and --date, "
					   "or --from and --to, or --since");
	if (shift)
		return read_shift(span, session, call, line);
	if (since)
		return read_since(span, call);
	return bounds ? read_bounds(span, call) : COMMAND_DONE;
}

/* A store has those of other sites too: then which were looked for. */
static enum command_exit
tell_no_shots(const struct session *session, const struct call *call, const char *line)
{
	bool ours = source_ledger(session->source) != NULL;

	fprintf(call->err, "evensoak: there are no shots%s%s%s%s%s in %s\n",
	    line ? " of line " : "", line ? line : "", ours ? "" : " of site '",
	    ours ? "" : session->settings->site, ours ? "" : "'",
	    source_name(session->source));
	return COMMAND_NO;
}

enum command_exit
span_latest(struct span *span, const struct session *session, const struct call *call,
    const char *line)
{
	struct shift_span shift;
	struct wall at;
	struct error error;

	*span = (struct span){0};
	if (newest(session, line, &at, &error) != 0)
		return command_cannot(call, &error);
	if (at.ns == 0)
		return tell_no_shots(session, call, line);
	if (shift_at(session->settings, at, &shift))
		set_shift(span, &shift);
	else
		set_day(span, calendar_date_of(at));
	return COMMAND_DONE;
}
