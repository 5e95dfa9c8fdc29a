/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shot_earlier.h"

#include <math.h>
#include <string.h>

#include "cli/command/shown.h"
#include "daemon/base/error.h"

struct earlier {
	const struct session *session;
	const struct ledger_shot *shot;
	struct page *page;
	int64_t count;
};

/* A value of a feature, or why there is none. */
static struct cell
feature_cell(
    const struct settings *settings, int feature, double value, const char *absent)
{
	return feature < 0 || isnan(value) ? cell_absent(absent)
	                                   : shown_value(settings, feature, value);
}

static int
take_earlier(void *arg, const struct ledger_earlier *row)
{
	struct earlier *earlier = arg;
	const struct settings *settings = earlier->session->settings;
	const struct ledger_shot *shot = earlier->shot;
	int id = feature_find(row->feature);
	bool outcome = strcmp(row->feature, "outcome") == 0;
	struct cell was = feature_cell(settings, id, row->value, row->text);
	struct cell is = cell_absent(NULL);

	if (outcome)
		is = cell_absent(shot_outcome_text(shot->outcome));
	else if (id >= 0)
		is = feature_cell(settings, id, shot->value[id],
		    absent_text((enum absent)shot->absent[id]));
	was.tone = is.tone = TONE_PLAIN;
	const struct cell cells[] = {
	    cell_words(row->feature),
	    was,
	    is,
	    cell_words(id < 0 ? "" : feature_unit_text(id)),
	    cell_words(id < 0 ? "" : shown_unit(settings, id)),
	    shown_name(row->text),
	    cell_time(row->until),
	    cell_count(row->setup),
	    cell_count(row->change),
	};
	page_row(earlier->page, cells);
	earlier->count++;
	return 0;
}

int
shot_earlier_put(struct page *page, const struct session *session,
    const struct ledger_shot *shot, struct error *error)
{
	static const struct column columns[] = {
	    {"feature", "what", 0},
	    {"value", "was", 0},
	    {NULL, "is now", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"text", NULL, 0},
	    {"until", "until", 0},
	    {"setup", "set-up", 0},
	    {"change", NULL, 0},
	};
	struct earlier earlier = {session, shot, page, 0};

	page_table(page, "earlier", "Before it was made again", columns,
	    sizeof columns / sizeof columns[0]);
	int code = ledger_read_earlier(
	    session->ledger, shot->id, take_earlier, &earlier, error);
	page_table_end(page);
	if (earlier.count > 0)
		page_note(page, NULL, TONE_FAINT,
		    "the text of a set-up: sqlite3 %s \"SELECT text FROM setup WHERE "
		    "id = %lld\"",
		    session->path, (long long)shot->setup);
	return code;
}
