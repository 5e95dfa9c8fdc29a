/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/report_shifts.h"

#include <stdio.h>
#include <string.h>

#include "cli/source/source.h"
#include "conf/shift.h"
#include "daemon/base/text.h"

enum { DAYS_BACK = 14, TOLD_BYTES = 768 };

static int
take_time(void *arg, const struct ledger_shot *shot)
{
	*(struct wall *)arg = shot->filed_at;
	return 1;
}

/* When a shot of that time was filed, the newest; ns 0: there is none. */
static int
find_shot(const struct session *session, const struct ledger_filter *filter,
    struct wall *at, struct error *error)
{
	at->ns = 0;
	return source_read_shots(session->source, filter, false, take_time, at, error);
}

/* The shifts that begin on one day, the last first; whether they have shots. */
static int
tell_day(struct text *text, const struct session *session, const char *line,
    struct calendar_date date, struct error *error)
{
	const struct settings *settings = session->settings;
	int code = 0;

	for (size_t i = settings->shift_count; i-- > 0 && code == 0;) {
		const char *name = settings->shifts[i].name;
		struct shift_span shift;
		struct wall at;
		if (shift_on(settings, name, date) != &settings->shifts[i] ||
		    shift_find(settings, name, date, &shift, error) != 0)
			continue;
		const struct ledger_filter filter = {.line = line,
		    .from = shift.from,
		    .to = shift.to,
		    .limit = 1,
		    .by_time = true};
		code = find_shot(session, &filter, &at, error);
		if (code == 0 && at.ns != 0)
			text_printf(text, "%s%s of %04d-%02d-%02d",
			    text->length ? ", " : "", name, date.year, date.month,
			    date.day);
	}
	return code;
}

int
report_shifts_tell(struct page *page, const struct session *session, const char *line,
    struct error *error)
{
	const struct ledger_filter newest = {
	    .line = line, .limit = 1, .newest_first = true};
	struct text text;
	struct wall at;
	int code = find_shot(session, &newest, &at, error);

	if (code != 0 || at.ns == 0)
		return code;
	text_init(&text, TOLD_BYTES);
	struct calendar_date day = calendar_date_of(at);
	for (int back = 0;
	     back < DAYS_BACK && code == 0 && text.length < TOLD_BYTES / 3; back++)
		code = tell_day(
		    &text, session, line, calendar_date_add(day, -back), error);
	if (code == 0 && text.length > 0)
		page_note(
		    page, NULL, TONE_PLAIN, "shifts that have shots: %s", text.bytes);
	text_release(&text);
	return code;
}
