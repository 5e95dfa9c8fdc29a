/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/victoria.h"

#include <inttypes.h>
#include <stdio.h>

#include "cli/source/point.h"
#include "daemon/publish/http.h"

enum {
	SELECTOR_MOST = 64 << 10,
	FIRST_S = 365 * 86400,
	LAST_S = 2 * 86400, /* ahead of now */
};

void
victoria_add_label(struct text *selector, const char *name, const char *value)
{
	text_printf(selector, ",%s=\"", name);
	for (; *value != '\0'; value++) {
		if (*value == '"' || *value == '\\')
			text_add(selector, "\\", 1);
		if (*value == '\n')
			text_puts(selector, "\\n");
		else
			text_add(selector, value, 1);
	}
	text_puts(selector, "\"");
}

/* {names, and the site, line and data base}; `more` goes into it. */
static void
add_selector(struct text *selector, const struct text *names,
    const struct store_question *question, const char *more)
{
	text_printf(selector, "{%s", names->failed ? "" : names->bytes);
	victoria_add_label(selector, "site", question->site);
	if (question->line != NULL)
		victoria_add_label(selector, "line", question->line);
	if (*question->label != '\0')
		victoria_add_label(selector, "db", question->label);
	text_printf(selector, "%s}", more);
	selector->failed |= names->failed;
}

static void
add_match(struct text *form, const struct text *names,
    const struct store_question *question, const char *more)
{
	struct text selector;

	text_init(&selector, SELECTOR_MOST);
	add_selector(&selector, names, question, more);
	http_add_pair(form, "match[]", selector.failed ? "" : selector.bytes);
	form->failed |= selector.failed;
	text_release(&selector);
}

/* Its bounds are both within, in seconds with a fraction. */
static void
add_time(struct text *form, const struct store_question *question)
{
	char number[32];

	snprintf(number, sizeof number, "%" PRId64, question->from_s);
	http_add_pair(form, "start", number);
	snprintf(number, sizeof number, "%" PRId64 ".999", question->to_s - 1);
	http_add_pair(form, "end", number);
}

static void
ask_named(struct text *form, const struct store_question *question, const char *names)
{
	struct text text;

	text_init(&text, SELECTOR_MOST);
	text_puts(&text, names);
	add_match(form, &text, question, "");
	add_time(form, question);
	text_release(&text);
}

/* Why those features are absent that are asked for. */
static void
add_absences(struct text *form, const struct store_question *question)
{
	struct text names, features;

	text_init(&names, SELECTOR_MOST);
	text_init(&features, SELECTOR_MOST);
	for (size_t i = 0; i < question->feature_count; i++)
		text_printf(&features, "%s%s", i > 0 ? "|" : ",feature=~\"",
		    feature_get(question->features[i])->name);
	text_puts(&features, "\"");
	text_puts(&names, "__name__=\"shot_absent_shot_no\"");
	if (question->feature_count > 0)
		add_match(
		    form, &names, question, features.failed ? "" : features.bytes);
	form->failed |= features.failed;
	text_release(&features);
	text_release(&names);
}

/* All but the channels in one answer. */
static void
ask_shots(struct text *form, const struct store_question *question)
{
	struct text names;
	const char *words = question->values_only ? "" : "|shot_words_shot_no";

	text_init(&names, SELECTOR_MOST);
	if (!store_question_is_picky(question)) {
		text_printf(&names,
		    "__name__=~\"shot_.+\",__name__!~\"shot_(channel_.+|superseded|"
		    "current%s)\"",
		    question->reasons ? "" : "|absent_.+");
	} else {
		text_puts(&names, "__name__=~\"shot_shot_no");
		for (int i = POINT_SHOT_NO + 1; i < POINT_FIXED + FEATURE_COUNT; i++)
			if (store_question_wants(question, i))
				text_printf(&names, "|shot_%s", point_name(i));
		text_printf(&names, "%s\"", words);
		if (question->reasons)
			add_absences(form, question);
	}
	add_match(form, &names, question, "");
	add_time(form, question);
	text_release(&names);
}

/* One number about the shots of the span.  One that reaches back to 1970, or beyond what it
 * takes, has no answer (measured with 1.79.5). */
static void
ask_number(
    struct text *form, const struct store_question *question, const char *functions)
{
	int64_t last_s = question->now_s + LAST_S;
	int64_t from_s = question->from_s > FIRST_S ? question->from_s : FIRST_S;
	int64_t to_s = question->to_s < last_s ? question->to_s : last_s;
	struct text names, query;
	char number[32];

	text_init(&names, SELECTOR_MOST);
	text_init(&query, SELECTOR_MOST);
	text_puts(&names, "__name__=\"shot_shot_no\"");
	text_printf(&query, "%s(", functions);
	add_selector(&query, &names, question, "");
	text_printf(&query, "[%" PRId64 "s]))", to_s > from_s ? to_s - from_s : 1);
	http_add_pair(form, "query", query.failed ? "" : query.bytes);
	snprintf(number, sizeof number, "%" PRId64, to_s);
	http_add_pair(form, "time", number);
	form->failed |= query.failed;
	text_release(&query);
	text_release(&names);
}

static void
ask_edge(struct text *form, const struct store_question *question)
{
	ask_number(form, question,
	    question->first ? "min(tfirst_over_time" : "max(tlast_over_time");
}

static void
ask_amount(struct text *form, const struct store_question *question)
{
	ask_number(form, question, "sum(count_over_time");
}

static void
ask_events(struct text *form, const struct store_question *question)
{
	ask_named(form, question, "__name__=\"event_at_us\"");
}

static void
ask_shifts(struct text *form, const struct store_question *question)
{
	ask_named(form, question, "__name__=\"shift_total_shots\"");
}

static void
ask_channels(struct text *form, const struct store_question *question)
{
	struct store_question one = *question;
	struct text names, revision;
	char number[24];

	one.from_s = question->point_ns / CLOCK_SECOND_NS;
	one.to_s = one.from_s + 1;
	snprintf(number, sizeof number, "%" PRId64, question->revision);
	text_init(&names, SELECTOR_MOST);
	text_init(&revision, SELECTOR_MOST);
	text_puts(&names, "__name__=~\"shot_channel_.+\"");
	victoria_add_label(&revision, "revision", number);
	add_match(form, &names, &one, revision.failed ? "" : revision.bytes);
	add_time(form, &one);
	form->failed |= revision.failed;
	text_release(&revision);
	text_release(&names);
}

static void
ask_lines(struct text *form, const struct store_question *question)
{
	ask_named(form, question, "__name__=\"shot_shot_no\"");
}

const struct store_dialect victoria_dialect = {
    .subjects =
	{
	    [SUBJECT_SHOTS] = {"/api/v1/export", ask_shots, victoria_take_shots},
	    [SUBJECT_EDGE] = {"/api/v1/query", ask_edge, victoria_take_edge},
	    [SUBJECT_AMOUNT] = {"/api/v1/query", ask_amount, victoria_take_amount},
	    [SUBJECT_LINES] = {"/api/v1/label/line/values", ask_lines,
		victoria_take_lines},
	    [SUBJECT_EVENTS] = {"/api/v1/export", ask_events, victoria_take_events},
	    [SUBJECT_SHIFTS] = {"/api/v1/export", ask_shifts, victoria_take_shifts},
	    [SUBJECT_CHANNELS] = {"/api/v1/export", ask_channels,
		victoria_take_channels},
	},
};
