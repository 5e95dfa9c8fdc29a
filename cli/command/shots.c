/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>
#include <string.h>

#include "cli/population/population.h"
#include "cli/command/progress.h"
#include "cli/command/read_lines.h"
#include "cli/command/remark.h"
#include "cli/command/shots_alike.h"
#include "cli/command/shots_gap.h"
#include "cli/wording/shots_missing.h"
#include "cli/wording/shown.h"
#include "cli/command/span.h"
#include "cli/source/source.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { LAST_DEFAULT = 20 };

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

static void
put_shot(struct page *page, const struct settings *settings,
    const struct shots_alike *alike, const struct ledger_shot *shot)
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

/* What is not among the shots. */
struct holes {
	struct shots_gaps gaps;
	struct shots_missing missing;
	const struct source *source;
};

/* With the holes between them. */
static void
put_shots(struct page *page, const struct settings *settings,
    const struct shots_alike *alike, const struct list *list, struct holes *holes)
{
	const struct shots_gap *gap = holes->gaps.list, *end = gap + holes->gaps.count;
	char words[SHOTS_GAP_TEXT];

	for (size_t i = list->count; i-- > 0;) {
		const struct ledger_shot *shot = &list->shots[i];
		if (gap < end && gap->before == i) {
			shots_gap_words(gap++, alike->line ? "" : shot->line, words);
			page_across(page, TONE_BAD, words);
		}
		shots_missing_across(
		    &holes->missing, shot, !alike->line, holes->source, page);
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
    struct holes *holes)
{
	const struct shots_alike alike =
	    list->count ? shots_alike_find(list->shots, list->count)
			: (struct shots_alike){.line = true};
	struct column columns[COLUMNS] = {
	    {"line", alike.line ? NULL : "line", COLUMN_EACH},
	    {"shot_no", "shot", COLUMN_EACH},
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
		shots_alike_put(page, settings, &alike, &list->shots[0]);
	page_table(page, "shots", NULL, columns, COLUMNS);
	put_shots(page, settings, &alike, list, holes);
	page_table_end(page);
	shots_gaps_put(page, list->shots, &holes->gaps);
	shots_missing_put(&holes->missing, page);
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

/* When the shots of the list that were all read begin. */
static struct wall
find_begin(const struct list *list, const struct span *span)
{
	struct wall oldest = {INT64_MAX};

	if (list->most == 0 || list->count < list->most)
		return span->from;
	for (size_t i = 0; i < list->count; i++)
		if (list->shots[i].filed_at.ns < oldest.ns)
			oldest = list->shots[i].filed_at;
	oldest.ns += 1000; /* others may be of that microsecond */
	return oldest;
}

static int
find_holes(struct holes *holes, const struct session *session, const struct list *list,
    const struct span *span, struct error *error)
{
	*holes = (struct holes){.source = session->source};
	/* among shots of one outcome nothing is missing */
	if (list->outcome >= 0)
		return 0;
	const struct lacking_asked asked = {NULL, find_begin(list, span), span->to};
	int code = shots_gaps_find(
	    &holes->gaps, session->source, list->shots, list->count, error);
	return code == 0 ? shots_missing_find(&holes->missing, session->source,
			       list->shots, list->count, &asked, error)
	                 : code;
}

static enum command_exit
show_list(const struct call *call, const struct session *session,
    const struct list *list, const struct span *span)
{
	struct holes holes;
	struct error error;
	struct page *page = NULL;
	enum command_exit code = list->count ? COMMAND_DONE : COMMAND_NO;

	if (list->count == 0) {
		fprintf(call->err, "evensoak: no such shots in %s\n",
		    source_name(session->source));
		if (call->format == PAGE_TEXT)
			return COMMAND_NO;
	}
	if (find_holes(&holes, session, list, span, &error) != 0)
		code = command_cannot(call, &error);
	else if (!(page = command_page(call)))
		code = COMMAND_CANNOT;
	if (page)
		put_list(page, session->settings, list, &holes);
	free(holes.gaps.list);
	shots_missing_release(&holes.missing);
	return page ? command_end_page(call, page, code) : code;
}

/* Those of the line `name`, NULL: of all. */
static enum command_exit
read_and_show(const struct call *call, const struct session *session, const char *name,
    struct list *list)
{
	struct population_features features;
	struct span span;
	struct error error;
	enum command_exit code;

	remark_features(session->settings, &features);
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
	    .features = features.list,
	    .feature_count = features.count,
	};
	struct progress *progress = progress_start(call->err, PROGRESS_AFTER_S);
	progress_tell(progress, "%s ...", source_name(session->source));
	int failed =
	    source_read_shots(session->source, &filter, true, take_shot, list, &error);
	progress_end(progress);
	if (failed == 0 && list->failed)
		failed = error_set(&error, ERROR_MEMORY, "out of memory");
	if (failed != 0)
		return command_cannot(call, &error);
	put_in_order(list);
	return show_list(call, session, list, &span);
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
    .details =
	"One line a shot, by its number within its line, the newest last; what\n"
	"is the same for all stands above. '-- not logged' stands where the\n"
	"logger ended or began, or, beside a shot with polls missing, the\n"
	"machine's counter went up by more than the shots, and '-- shots\n"
	"are not in' where numbers are missing; not with --outcome.\n"
	"\n"
	"The columns; a figure that the line has no sensors for has none:\n"
	"  heat, sag    seconds in the oven, and until the sheet hung into the eye\n"
	"  top, bottom  its surfaces as the heat ended\n"
	"  core         its middle as the platens closed, computed\n"
	"  spread       of the tool, over the means of its sensors\n"
	"  cycle        from form start to form start\n"
	"\n"
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
