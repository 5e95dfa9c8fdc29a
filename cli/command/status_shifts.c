/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_shifts.h"

#include <stdlib.h>

#include "cli/command/close_shifts.h"
#include "cli/page/page.h"

#define HOUR_NS (3600 * CLOCK_SECOND_NS)
#define DAY_NS (24 * HOUR_NS)

static int
see_shift(void *arg, const struct ledger_shift *shift)
{
	(void)shift;
	*(bool *)arg = true;
	return 1;
}

static int
see_shot(void *arg, const struct ledger_shot *shot)
{
	(void)shot;
	*(bool *)arg = true;
	return 1;
}

struct looked {
	bool filed, shots;
};

static int
look(struct looked *looked, const struct session *session, const char *line,
    const struct close_span *span, struct error *error)
{
	static const int no_features[1];
	const struct ledger_shift_filter shifts = {
	    .line = line, .from = span->from, .to = span->to, .limit = 1};
	const struct ledger_filter shots = {.line = line,
	    .from = span->from,
	    .to = span->to,
	    .limit = 1,
	    .by_time = true,
	    .features = no_features,
	    .values_only = true};

	*looked = (struct looked){false, false};
	int code = ledger_read_shifts(
	    session->ledger, &shifts, see_shift, &looked->filed, error);
	return code != 0 ? code
	                 : ledger_read_shots(session->ledger, &shots, false, see_shot,
			       &looked->shots, error);
}

/* The last that should be on file, and is not; NULL: none. */
static int
find_open(const struct close_span **open, const struct session *session,
    const char *line, const struct close_spans *spans, struct wall ended,
    struct error *error)
{
	struct looked looked = {false, false};
	int code = 0;

	*open = NULL;
	for (size_t i = spans->count; i > 0 && code == 0 && !looked.filed && !*open;) {
		const struct close_span *span = &spans->list[--i];
		if (span->to.ns > ended.ns)
			continue;
		code = look(&looked, session, line, span, error);
		if (code == 0 && looked.shots && !looked.filed)
			*open = span;
	}
	return code;
}

int
status_shifts_remark(
    struct page *page, const struct session *session, struct error *error)
{
	const struct settings *settings = session->settings;
	const struct wall now = clock_wall(), ended = {now.ns - HOUR_NS},
			  back = {now.ns - CLOSE_BACK_DAYS * DAY_NS};
	const struct close_span *open = NULL;
	struct close_spans spans = {.count = 0};
	char from[CALENDAR_TEXT];

	if (settings->shift_count == 0)
		return 0;
	int code = close_spans_find(&spans, settings, back, ended, error);
	for (size_t i = 0; i < settings->line_count && code == 0 && !open; i++) {
		const char *line = settings->lines[i].name;
		code = find_open(&open, session, line, &spans, ended, error);
		if (code != 0 || !open)
			continue;
		calendar_local_text(open->from, from);
		page_note(page, NULL, TONE_BAD,
		    "shifts are not closed, so dashboards lack them: %s of %s, from "
		    "%s; is evensoak-shifts.timer running? 'sudo systemctl enable "
		    "--now evensoak-shifts.timer' starts it, 'journalctl -u "
		    "evensoak-shifts' tells of its runs",
		    open->shift, line, from);
	}
	free(spans.list);
	return code;
}
