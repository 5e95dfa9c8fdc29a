/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_gaps.h"

#include <string.h>

#include "daemon/base/error.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { GAPS_MOST = 50 };

struct gaps {
	struct page *page;
	struct wall
	    ended; /* the last time that it did; ns 0: it runs, or nobody knows */
	size_t count;
};

static void
put_gap(struct gaps *gaps, struct wall from, struct wall to)
{
	const struct cell cells[] = {cell_time(from), cell_time(to)};

	if (gaps->count++ < GAPS_MOST)
		page_row(gaps->page, cells);
}

/* One that is killed does not say that it ends: then nobody knows since when. */
static int
take_event(void *arg, const struct ledger_event *event)
{
	struct gaps *gaps = arg;

	if (strcmp(event->kind, "end") == 0) {
		gaps->ended = event->at;
	} else if (strcmp(event->kind, "start") == 0) {
		put_gap(gaps, gaps->ended, event->at);
		gaps->ended.ns = 0;
	}
	return 0;
}

/* The last turn before the report's time tells whether it was logged as that began. */
static int
take_earlier(void *arg, const struct ledger_event *event)
{
	struct gaps *gaps = arg;
	bool end = strcmp(event->kind, "end") == 0;

	if (end)
		gaps->ended = event->at;
	return end || strcmp(event->kind, "start") == 0;
}

static int
look_before(struct gaps *gaps, const struct report_line *line, struct error *error)
{
	const struct ledger_filter filter = {
	    .line = line->line, .to = line->from, .newest_first = true};

	if (line->from.ns == 0)
		return 0;
	return source_read_events(line->source, &filter, take_earlier, gaps, error);
}

int
report_gaps_put(const struct report_line *line, struct error *error)
{
	static const struct column columns[] = {
	    {"from", "from", 0},
	    {"to", "to", 0},
	};
	struct gaps gaps = {.page = line->page};
	const struct ledger_filter filter = {
	    .line = line->line, .from = line->from, .to = line->to, .by_time = true};

	page_table(line->page, "not_logged", "Not logged", columns, COUNT(columns));
	int code = look_before(&gaps, line, error);
	if (code == 0)
		code =
		    source_read_events(line->source, &filter, take_event, &gaps, error);
	if (code == 0 && gaps.ended.ns != 0)
		put_gap(&gaps, gaps.ended, (struct wall){0});
	page_table_end(line->page);
	if (gaps.count > GAPS_MOST)
		page_note(line->page, NULL, TONE_PLAIN,
		    "not logged: %zu more times are not told", gaps.count - GAPS_MOST);
	return code;
}
