/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shot_earlier.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/set_up_lines.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"

enum { SETUPS = 16 };

struct earlier {
	const struct session *session;
	const struct ledger_shot *shot;
	struct page *page;
	int64_t count;
	int64_t setups[SETUPS]; /* the newest of those that differ from the shot's */
	size_t setup_count;
};

/* A value of a feature, or why there is none. */
static struct cell
feature_cell(
    const struct settings *settings, int feature, double value, const char *absent)
{
	return feature < 0 || isnan(value) ? cell_absent(absent)
	                                   : shown_value(settings, feature, value);
}

static void
add_setup(struct earlier *earlier, int64_t setup)
{
	for (size_t i = 0; i < earlier->setup_count; i++)
		if (earlier->setups[i] == setup)
			return;
	if (setup != earlier->shot->setup && earlier->setup_count < SETUPS)
		earlier->setups[earlier->setup_count++] = setup;
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
	else if (strcmp(row->feature, "properties") == 0)
		is = cell_absent(shot->properties);
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
	add_setup(earlier, row->setup);
	return 0;
}

/* --- the set-ups --------------------------------------------------------------------- */

struct differing {
	struct page *page;
	int64_t earlier, now;
};

static void
take_line(void *arg, const struct set_up_line *line)
{
	const struct differing *differing = arg;
	const struct cell cells[] = {
	    cell_count(line->added ? differing->now : differing->earlier),
	    cell_words(line->section),
	    cell_words(line->text),
	    cell_count(differing->earlier),
	};

	page_row(differing->page, cells);
}

static int
put_difference(const struct earlier *earlier, int64_t setup, struct error *error)
{
	struct ledger_read *ledger = earlier->session->ledger;
	char *was = ledger_read_setup(ledger, setup, error);
	char *is = was ? ledger_read_setup(ledger, earlier->shot->setup, error) : NULL;
	struct differing differing = {earlier->page, setup, earlier->shot->setup};
	int code = was && is ? 0 : ERROR_IO;

	if (code == 0 && !set_up_lines_compare(was, is, take_line, &differing))
		code = error_set(error, ERROR_MEMORY, "out of memory");
	free(was);
	free(is);
	return code;
}

static int
put_set_ups(const struct earlier *earlier, struct error *error)
{
	static const struct column columns[] = {
	    {"setup", "set-up", 0},
	    {"section", "section", 0},
	    {"line", "has the line", 0},
	    {"earlier_setup", NULL, 0},
	};
	int code = 0;

	page_table(earlier->page, "set_up_lines", "What only one of two set-ups has",
	    columns, sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < earlier->setup_count && code == 0; i++)
		code = put_difference(earlier, earlier->setups[i], error);
	page_table_end(earlier->page);
	if (earlier->setup_count == 0)
		page_note(earlier->page, NULL, TONE_FAINT,
		    "it was made under set-up %lld alone",
		    (long long)earlier->shot->setup);
	return code;
}

int
shot_earlier_put(struct page *page, const struct session *session,
    const struct ledger_shot *shot, bool set_ups, struct error *error)
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
	struct earlier earlier = {.session = session, .shot = shot, .page = page};

	page_table(page, "earlier", "Before it was made again", columns,
	    sizeof columns / sizeof columns[0]);
	int code = ledger_read_earlier(
	    session->ledger, shot->id, take_earlier, &earlier, error);
	page_table_end(page);
	if (code == 0 && set_ups)
		return put_set_ups(&earlier, error);
	if (earlier.setup_count > 0)
		page_note(page, NULL, TONE_FAINT,
		    "what differs between the set-ups: evensoak shot %lld --set-up",
		    (long long)shot->shot_no);
	return code;
}
