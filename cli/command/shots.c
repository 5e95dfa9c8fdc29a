/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>
#include <string.h>

#include "cli/command/population.h"
#include "cli/command/read_lines.h"
#include "cli/command/remark.h"
#include "cli/command/shots_gap.h"
#include "cli/command/shown.h"
#include "cli/command/span.h"
#include "cli/source/source.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum {
	LAST_DEFAULT = 20,
	DAY = sizeof "2026-03-02" - 1, /* bytes of a local time that are its day */
};

/* What stands in a row beside the key features. */
enum { LABELS = 8, AFTER = 4, COLUMNS = LABELS + REMARK_KEYS + AFTER };

/* Read newest first, shown oldest first. */
struct list {
	struct ledger_shot *shots;
	size_t count, room, most; /* most 0: all */
	int outcome;              /* -1: any */
	bool failed;
};

/* By number within each line, in the places that the line has in the list: a shot that is
 * given up late, or of which little was seen, is filed by a time that may be another's. */
static void
put_in_order(struct list *list)
{
	struct ledger_shot *shots = list->shots;

	for (size_t i = 1; i < list->count; i++)
		for (size_t at = i, k = i; k-- > 0;) {
			if (strcmp(shots[k].line, shots[at].line) != 0)
				continue;
			if (shots[k].shot_no > shots[at].shot_no)
				break;
			struct ledger_shot held = shots[k];
			shots[k] = shots[at];
			shots[at] = held;
			at = k;
		}
}

/* What is the same for all shots of the list: people read it once, above. */
struct alike {
	bool line, day, recipe, tool, lot;
	bool side; /* no machine of theirs has any */
};

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct list *list = arg;

	if (list->outcome >= 0 && (int)shot->outcome != list->outcome)
		return 0;
	if (list->count == list->room) {
		size_t room = list->room ? list->room * 2 : 32;
		struct ledger_shot *shots =
		    reallocarray(list->shots, room, sizeof *shots);
		if (!shots) {
			list->failed = true;
			return 1;
		}
		list->shots = shots;
		list->room = room;
	}
	list->shots[list->count++] = *shot;
	return list->most > 0 && list->count == list->most;
}

static struct alike
find_alike(const struct list *list)
{
	const struct ledger_shot *one = &list->shots[0];
	struct alike alike = {true, true, true, true, true, true};
	char clock[CALENDAR_TEXT];

	for (size_t i = 0; i < list->count; i++) {
		const struct ledger_shot *shot = &list->shots[i];
		alike.line &= strcmp(shot->line, one->line) == 0;
		shown_clock(shot->filed_at, one->filed_at, clock);
		alike.day &= strlen(clock) < DAY;
		alike.recipe &= strcmp(shot->recipe, one->recipe) == 0;
		alike.tool &= strcmp(shot->tool, one->tool) == 0;
		alike.lot &= strcmp(shot->lot, one->lot) == 0;
		alike.side &= *shot->side == '\0';
	}
	return alike;
}

static void
add_label(struct text *words, const char *what, const char *label)
{
	text_printf(words, "%s%s%s%s", words->length ? ", " : "", what,
	    *what ? " " : "", *label ? label : "unknown");
}

/* "line-3, 2026-03-02, recipe 12 (pond-basin), tool T-117, lot A-0412". */
static void
put_alike(struct page *page, const struct settings *settings, const struct alike *alike,
    const struct ledger_shot *shot)
{
	const struct recipe_settings *recipe =
	    settings_recipe(settings, population_recipe(shot->recipe));
	char day[CALENDAR_TEXT];
	struct text words;

	calendar_local_text(shot->filed_at, day);
	day[DAY] = '\0';
	text_init(&words, REMARK_TEXT);
	if (alike->line)
		add_label(&words, "", shot->line);
	if (alike->day)
		add_label(&words, "", day);
	if (alike->recipe)
		add_label(&words, "recipe", shot->recipe);
	if (alike->recipe && recipe && *recipe->name)
		text_printf(&words, " (%s)", recipe->name);
	if (alike->tool)
		add_label(&words, "tool", shot->tool);
	if (alike->lot)
		add_label(&words, "lot", shot->lot);
	if (words.length)
		page_note(page, NULL, TONE_STRONG, "%s", words.bytes);
	text_release(&words);
}

static void
put_shot(struct page *page, const struct settings *settings, const struct alike *alike,
    const struct ledger_shot *shot)
{
	struct cell cells[COLUMNS];
	char flags[SHOWN_FLAGS], remark[REMARK_TEXT], at[CALENDAR_TEXT];
	size_t n = 0;

	shown_flags(shot->flags, flags);
	remark_on(settings, shot, remark);
	shown_clock(shot->filed_at, shot->filed_at, at);
	cells[n++] = cell_words(shot->line);
	cells[n++] = cell_count(shot->shot_no);
	cells[n++] = cell_words(shot->side);
	cells[n] = cell_time(shot->filed_at);
	cells[n++].instead = alike->day ? at : NULL;
	cells[n++] = cell_words(shot_outcome_text(shot->outcome));
	cells[n++] = shown_name(shot->recipe);
	cells[n++] = shown_name(shot->tool);
	cells[n++] = shown_name(shot->lot);
	for (size_t i = 0; i < REMARK_KEYS; i++) {
		int id = remark_keys[i].feature;
		cells[n] = shown_value(settings, id, shot->value[id]);
		if (shot->absent[id] == ABSENT_NOT_CONFIGURED)
			cells[n].words = ""; /* nobody misses it */
		n++;
	}
	cells[n++] = cell_words(flags);
	cells[n++] = shown_name(shot->reason);
	cells[n++] = shown_name(shot->side);
	cells[n] = cell_words(remark);
	cells[n++].tone = shot->outcome == SHOT_COMPLETE ? TONE_PLAIN : TONE_BAD;
	page_row(page, cells);
}

/* With the holes between them. */
static void
put_shots(struct page *page, const struct settings *settings, const struct alike *alike,
    const struct list *list, const struct shots_gaps *gaps)
{
	const struct shots_gap *gap = gaps->list, *end = gaps->list + gaps->count;
	char words[SHOTS_GAP_TEXT];

	for (size_t i = list->count; i-- > 0;) {
		const struct ledger_shot *shot = &list->shots[i];
		if (gap < end && gap->before == i) {
			shots_gap_words(gap++, alike->line ? "" : shot->line, words);
			page_across(page, TONE_BAD, words);
		}
		put_shot(page, settings, alike, shot);
	}
}

/* Whether any shot of the list has the figure, or a reason why not. */
static bool
is_measured(const struct list *list, int feature)
{
	for (size_t i = 0; i < list->count; i++)
		if (list->shots[i].absent[feature] != ABSENT_NOT_CONFIGURED)
			return true;
	return false;
}

static void
put_list(struct page *page, const struct settings *settings, const struct list *list,
    const struct shots_gaps *gaps)
{
	const struct alike alike =
	    list->count ? find_alike(list) : (struct alike){.line = true};
	struct column columns[COLUMNS] = {
	    {"line", alike.line ? NULL : "line", 0},
	    {"shot_no", "shot", 0},
	    {NULL, alike.side ? NULL : "side", 0},
	    {"filed_at", "at", 0},
	    {"outcome", NULL, 0},
	    {"recipe", alike.recipe ? NULL : "recipe", 0},
	    {"tool", alike.tool ? NULL : "tool", 0},
	    {"lot", alike.lot ? NULL : "lot", 0},
	};
	const struct column after[AFTER] = {
	    {"flags", NULL, 0},
	    {"reason", NULL, 0},
	    {"side", NULL, 0},
	    {NULL, "what is odd", 0},
	};
	char titles[REMARK_KEYS][SETTINGS_NAME];

	for (size_t i = 0; i < REMARK_KEYS; i++) {
		const struct remark_key *key = &remark_keys[i];
		snprintf(titles[i], sizeof titles[i], "%s %s",
		    key->title ? key->title : "", shown_unit(settings, key->feature));
		bool shown = key->title && is_measured(list, key->feature);
		columns[LABELS + i] = (struct column){
		    feature_get(key->feature)->name, shown ? titles[i] : NULL, 0};
	}
	memcpy(columns + LABELS + REMARK_KEYS, after, sizeof after);

	if (list->count)
		put_alike(page, settings, &alike, &list->shots[0]);
	page_table(page, "shots", NULL, columns, COLUMNS);
	put_shots(page, settings, &alike, list, gaps);
	page_table_end(page);
	shots_gaps_put(page, list->shots, gaps);
}

static enum command_exit
read_outcome(const struct call *call, int *outcome)
{
	const char *names[SHOT_OUTCOME_COUNT];
	const char *word = call->option[OPTION_OUTCOME];

	*outcome = -1;
	for (int i = 0; i < SHOT_OUTCOME_COUNT; i++) {
		names[i] = shot_outcome_text((enum shot_outcome)i);
		if (word && strcmp(word, names[i]) == 0)
			*outcome = i;
	}
	if (!word || *outcome >= 0)
		return COMMAND_DONE;
	const char *near = text_nearest(word, names, SHOT_OUTCOME_COUNT);
	return command_usage(call, "there is no outcome '%s'%s%s%s", word,
	    near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
}

static enum command_exit
read_last(const struct call *call, bool time_given, size_t *most)
{
	const char *last = call->option[OPTION_LAST];
	int64_t count;

	*most = time_given ? 0 : LAST_DEFAULT;
	if (!last)
		return COMMAND_DONE;
	if (!text_integer(last, &count) || count < 1 || count > 1000000)
		return command_usage(
		    call, "'--last' is '%s', must be 1 to 1000000", last);
	*most = (size_t)count;
	return COMMAND_DONE;
}

static enum command_exit
show_list(
    const struct call *call, const struct session *session, const struct list *list)
{
	struct shots_gaps gaps = {0};
	struct error error;

	if (list->count == 0) {
		fprintf(call->err, "evensoak: no such shots in %s\n",
		    source_name(session->source));
		if (call->format == PAGE_TEXT)
			return COMMAND_NO;
	}
	/* among shots of one outcome nothing is missing */
	if (list->outcome < 0 && shots_gaps_find(&gaps, session->source, list->shots,
				     list->count, &error) != 0) {
		free(gaps.list);
		return command_cannot(call, &error);
	}
	struct page *page = command_page(call);
	if (page)
		put_list(page, session->settings, list, &gaps);
	free(gaps.list);
	if (!page)
		return COMMAND_CANNOT;
	return command_end_page(call, page, list->count ? COMMAND_DONE : COMMAND_NO);
}

/* Those of the line `name`, NULL: of all. */
static enum command_exit
read_and_show(const struct call *call, const struct session *session, const char *name,
    struct list *list)
{
	struct span span;
	struct error error;
	enum command_exit code;

	if ((code = span_read(&span, session, call, name)) != COMMAND_DONE ||
	    (code = read_outcome(call, &list->outcome)) != COMMAND_DONE ||
	    (code = read_last(call, span.given, &list->most)) != COMMAND_DONE)
		return code;
	const struct ledger_filter filter = {
	    .line = name,
	    .from = span.from,
	    .to = span.to,
	    .limit = list->outcome < 0 ? list->most : 0,
	    .newest_first = true,
	};
	if (source_read_shots(
		session->source, &filter, true, take_shot, list, &error) != 0)
		return command_cannot(call, &error);
	if (list->failed) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	put_in_order(list);
	return show_list(call, session, list);
}

static enum command_exit
list_shots(const struct call *call, const struct session *session)
{
	struct list list = {0};
	struct read_lines lines;
	enum command_exit code = read_lines_find(&lines, session, call);

	if (code == COMMAND_DONE)
		code = read_and_show(call, session, lines.one, &list);
	free(list.shots);
	read_lines_release(&lines);
	return code;
}

static enum command_exit
run_shots(const struct call *call)
{
	return session_run_source(call, list_shots);
}

const struct command command_shots = {
    .name = "shots",
    .arguments = "",
    .summary = "the list of shots, and what is odd about them",
    .details = "One line a shot, by its number within its line, the newest last; what\n"
	       "is the same for all stands above. '-- not logged' stands where the\n"
	       "logger ended or began, or, beside a shot with polls missing, the\n"
	       "machine's counter went up by more than the shots; not with\n"
	       "--outcome. heat, sag: seconds in the oven, and "
	       "until the sheet hung\n"
	       "into the eye; top, bottom: its surfaces as the heat ended; core: its\n"
	       "middle as the platens closed, computed; spread: of the tool, over\n"
	       "the means of its sensors; cycle: from form start to form start. A\n"
	       "figure that the line has no sensors for has no column.\n"
	       "Nothing under 'what is odd': a complete shot within its limits.\n"
	       "Else why it does not count (partial, empty, scrapped, aborted,\n"
	       "interrupted, reheated, timer release, startup), what happened\n"
	       "meanwhile, what is outside a limit, and which of the figures shown\n"
	       "are absent for what reason.\n" REMARK_GAP ".",
    .options = OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS | OPTION_BIT(OPTION_LAST) |
               OPTION_BIT(OPTION_OUTCOME) | OPTION_BIT(OPTION_STORE),
    .csv_table = "shots",
    .run = run_shots,
};
