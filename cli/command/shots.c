/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>
#include <string.h>

#include "cli/command/judgement.h"
#include "cli/command/population.h"
#include "cli/command/shown.h"
#include "cli/command/span.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

enum {
	LAST_DEFAULT = 20,
	REMARK = 600,
};

/* The features that tell at one glance how a shot was. */
static const int key_features[] = {
    FEATURE_HEAT_S,
    FEATURE_SAG_S,
    FEATURE_EXIT_TOP_C,
    FEATURE_EXIT_BOTTOM_C,
    FEATURE_TOOL_SPREAD_OF_MEANS_DC,
    FEATURE_ENERGY_KWH,
    FEATURE_CYCLE_S,
};
enum {
	KEY_FEATURES = sizeof key_features / sizeof key_features[0],
	FIXED_COLUMNS = 10
};

/* Read newest first, shown oldest first. */
struct list {
	struct ledger_shot *shots;
	size_t count, room, most; /* most 0: all */
	int outcome;              /* -1: any */
	bool failed;
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

/* What is beyond the limits that the set-up has for the shot's recipe and tool. */
static void
add_outside(
    struct text *words, const struct settings *settings, const struct ledger_shot *shot)
{
	int recipe = population_recipe(shot->recipe);

	for (int id = 0; id < FEATURE_COUNT; id++) {
		double value = shot->value[id], lower, upper;
		judgement_limits(settings_limit(settings, id, recipe, shot->tool), id,
		    &lower, &upper);
		if (!(value < lower || value > upper))
			continue;
		const char *unit = shown_unit(settings, id);
		struct cell is = shown_value(settings, id, value);
		struct cell limit =
		    shown_value(settings, id, value < lower ? lower : upper);
		text_printf(words, "%s%s %.*f%s%s %s %.*f", words->length ? "; " : "",
		    feature_get(id)->name, is.digits, is.shown, *unit ? " " : "", unit,
		    value < lower ? "below" : "above", limit.digits, limit.shown);
	}
}

/* What is odd, in words: why it does not count, its flags, what is outside a limit, which
 * key figures are absent. */
static void
remark_on(const struct settings *settings, const struct ledger_shot *shot,
    char text[static REMARK])
{
	char flags[SHOWN_FLAGS];
	struct text words;

	shown_flags(shot->flags, flags);
	text_init(&words, REMARK);
	text_puts(&words, shot->reason);
	if (*flags)
		text_printf(&words, "%s[%s]", words.length ? "; " : "", flags);
	add_outside(&words, settings, shot);
	for (size_t i = 0; shot->outcome == SHOT_COMPLETE && i < KEY_FEATURES; i++) {
		enum absent why = (enum absent)shot->absent[key_features[i]];
		if (why == ABSENT_NOT || why == ABSENT_NOT_CONFIGURED)
			continue;
		text_printf(&words, "%sno %s: %s", words.length ? "; " : "",
		    feature_get(key_features[i])->name, absent_text(why));
	}
	text_copy(text, REMARK, words.bytes ? words.bytes : "");
	text_release(&words);
}

static void
put_shot(struct page *page, const struct settings *settings, bool one_line,
    const struct ledger_shot *shot)
{
	struct cell cells[FIXED_COLUMNS + KEY_FEATURES];
	char flags[SHOWN_FLAGS], remark[REMARK];
	size_t n = 0;

	shown_flags(shot->flags, flags);
	remark_on(settings, shot, remark);
	struct cell line = cell_words(shot->line);
	line.instead = one_line ? "" : NULL;
	cells[n++] = line;
	cells[n++] = cell_count(shot->shot_no);
	cells[n++] = cell_time(shot->filed_at);
	cells[n] = cell_words(shot_outcome_text(shot->outcome));
	cells[n++].tone = shot->outcome == SHOT_COMPLETE ? TONE_PLAIN : TONE_BAD;
	cells[n++] = shown_name(shot->recipe);
	cells[n++] = shown_name(shot->tool);
	cells[n++] = shown_name(shot->lot);
	for (size_t i = 0; i < KEY_FEATURES; i++)
		cells[n++] = shown_value(
		    settings, key_features[i], shot->value[key_features[i]]);
	cells[n++] = cell_words(flags);
	cells[n++] = shown_name(shot->reason);
	cells[n++] = cell_words(remark);
	page_row(page, cells);
}

static void
put_list(struct page *page, const struct session *session, const struct list *list)
{
	static const struct column before[] = {
	    {"line", "line", 0},
	    {"shot_no", "shot", 0},
	    {"filed_at", "at", 0},
	    {"outcome", "outcome", 0},
	    {"recipe", "recipe", 0},
	    {"tool", "tool", 0},
	    {"lot", "lot", 0},
	};
	static const struct column after[] = {
	    {"flags", NULL, 0},
	    {"reason", NULL, 0},
	    {NULL, "remark", 0},
	};
	const struct settings *settings = session->settings;
	struct column columns[FIXED_COLUMNS + KEY_FEATURES];
	char titles[KEY_FEATURES][SETTINGS_NAME * 2];
	size_t n = sizeof before / sizeof before[0];

	memcpy(columns, before, sizeof before);
	for (size_t i = 0; i < KEY_FEATURES; i++) {
		const char *name = feature_get(key_features[i])->name;
		const char *unit = shown_unit(settings, key_features[i]);
		const char *end = strrchr(name, '_'); /* the name without its unit */
		snprintf(titles[i], sizeof titles[i], "%.*s%s%s",
		    end ? (int)(end - name) : (int)strlen(name), name, *unit ? " " : "",
		    unit);
		columns[n++] = (struct column){name, titles[i], 0};
	}
	memcpy(columns + n, after, sizeof after);
	n += sizeof after / sizeof after[0];

	page_table(page, "shots", NULL, columns, n);
	for (size_t i = list->count; i-- > 0;)
		put_shot(page, settings, settings->line_count == 1, &list->shots[i]);
	page_table_end(page);
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
	if (list->count == 0) {
		fprintf(call->err, "evensoak: no such shots in '%s'\n", session->path);
		if (call->format == PAGE_TEXT)
			return COMMAND_NO;
	}
	struct page *page = command_page(call);
	if (!page)
		return COMMAND_CANNOT;
	put_list(page, session, list);
	return command_end_page(call, page, list->count ? COMMAND_DONE : COMMAND_NO);
}

static enum command_exit
read_and_show(const struct call *call, const struct session *session, struct list *list)
{
	struct span span;
	struct error error;
	int line;
	enum command_exit code = session_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	const char *name = line >= 0 ? session->settings->lines[line].name : NULL;
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
	if (ledger_read_shots(
		session->ledger, &filter, true, take_shot, list, &error) != 0)
		return command_cannot(call, &error);
	if (list->failed) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	return show_list(call, session, list);
}

static enum command_exit
list_shots(const struct call *call, const struct session *session)
{
	struct list list = {0};
	enum command_exit code = read_and_show(call, session, &list);

	free(list.shots);
	return code;
}

static enum command_exit
run_shots(const struct call *call)
{
	return session_run(call, list_shots);
}

const struct command command_shots = {
    .name = "shots",
    .arguments = "",
    .summary = "the list of shots, and what is odd about them",
    .details =
	"One line a shot, the newest last.  The remark says why a shot does not "
	"count,\n"
	"[its flags], what is outside a limit, and which of the figures shown are "
	"absent for\nwhat reason.\n" SHOWN_GAP ".",
    .options = OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS | OPTION_BIT(OPTION_LAST) |
               OPTION_BIT(OPTION_OUTCOME),
    .csv_table = "shots",
    .run = run_shots,
};
