/* SPDX-License-Identifier: GPL-3.0-or-later */
/* InfluxQL over /query, which all servers of the family understand. */
#include "cli/source/influx.h"

#include <inttypes.h>
#include <stdio.h>

#include "cli/source/point.h"
#include "daemon/publish/http.h"

enum { STATEMENT_MOST = 64 << 10 };

void
influx_quote(struct text *statement, char quote, const char *value)
{
	text_add(statement, &quote, 1);
	for (; *value != '\0'; value++) {
		if (*value == quote || *value == '\\')
			text_add(statement, "\\", 1);
		if (*value == '\n')
			text_puts(statement, "\\n");
		else
			text_add(statement, value, 1);
	}
	text_add(statement, &quote, 1);
}

static void
add_condition(struct text *statement, const char *name, const char *value)
{
	text_puts(statement, " AND ");
	influx_quote(statement, '"', name);
	text_puts(statement, " = ");
	influx_quote(statement, '\'', value);
}

/* " FROM ... WHERE ..." of the site, the line and the time. */
static void
add_rest(struct text *statement, const char *measurement,
    const struct store_question *question)
{
	text_printf(statement, " FROM \"%s\" WHERE \"site\" = ", measurement);
	influx_quote(statement, '\'', question->site);
	if (question->line != NULL)
		add_condition(statement, "line", question->line);
	text_printf(statement,
	    " AND time >= %" PRId64 "000000000 AND time < %" PRId64 "000000000",
	    question->from_s, question->to_s);
	if (question->shot_no != 0)
		text_printf(
		    statement, " AND \"shot_no\" = %" PRId64, question->shot_no);
}

static void
add_form(struct text *form, const struct text *statement)
{
	http_add_pair(form, "q", statement->failed ? "" : statement->bytes);
	http_add_pair(form, "epoch", "ns");
	http_add_pair(form, "chunked", "true");
	http_add_pair(form, "chunk_size", "200");
	form->failed |= statement->failed;
}

static void
ask_shots(struct text *form, const struct store_question *question)
{
	struct text statement;
	const char *separator = "SELECT ";

	text_init(&statement, STATEMENT_MOST);
	if (!store_question_is_picky(question))
		text_puts(&statement, "SELECT *");
	else
		for (int i = 0; i < POINT_FIXED + FEATURE_COUNT; i++)
			if (store_question_wants(question, i)) {
				text_puts(&statement, separator);
				influx_quote(&statement, '"', point_name(i));
				separator = ", ";
			}
	add_rest(&statement, "shot", question);
	add_form(form, &statement);
	text_release(&statement);
}

static void
ask_columns(struct text *form, const struct store_question *question,
    const char *columns, const char *measurement)
{
	struct text statement;

	text_init(&statement, STATEMENT_MOST);
	text_printf(&statement, "SELECT %s", columns);
	add_rest(&statement, measurement, question);
	add_form(form, &statement);
	text_release(&statement);
}

/* AND ("feature" = 'a' OR ...); one that cannot be where none is asked for. */
static void
add_features(struct text *statement, const struct store_question *question)
{
	text_puts(statement, " AND (\"feature\" = ''");
	for (size_t i = 0; i < question->feature_count; i++) {
		text_puts(statement, " OR \"feature\" = ");
		influx_quote(statement, '\'', feature_get(question->features[i])->name);
	}
	text_puts(statement, ")");
}

static void
ask_absences(struct text *form, const struct store_question *question)
{
	struct text statement;

	text_init(&statement, STATEMENT_MOST);
	text_puts(&statement, "SELECT \"line\", \"revision\", \"feature\","
			      " \"reason\", \"shot_no\"");
	add_rest(&statement, "shot_absent", question);
	if (store_question_is_picky(question))
		add_features(&statement, question);
	add_form(form, &statement);
	text_release(&statement);
}

static void
ask_edge(struct text *form, const struct store_question *question)
{
	ask_columns(form, question,
	    question->first ? "first(\"shot_no\")" : "last(\"shot_no\")", "shot");
}

static void
ask_amount(struct text *form, const struct store_question *question)
{
	ask_columns(form, question, "count(\"shot_no\")", "shot");
}

static void
ask_events(struct text *form, const struct store_question *question)
{
	ask_columns(form, question, "\"line\", \"kind\", \"text\", \"at_us\"", "event");
}

static void
ask_shifts(struct text *form, const struct store_question *question)
{
	ask_columns(form, question, "\"line\", \"shift\", \"revision\", \"shots\"",
	    "shift_total");
}

static void
ask_channels(struct text *form, const struct store_question *question)
{
	struct text statement;
	char revision[24];

	snprintf(revision, sizeof revision, "%" PRId64, question->revision);
	text_init(&statement, STATEMENT_MOST);
	text_puts(&statement, "SELECT *");
	add_rest(&statement, "shot_channel", question);
	add_condition(&statement, "revision", revision);
	text_printf(&statement, " AND time = %" PRId64, question->point_ns);
	add_form(form, &statement);
	text_release(&statement);
}

static void
ask_lines(struct text *form, const struct store_question *question)
{
	struct text statement;

	text_init(&statement, STATEMENT_MOST);
	text_puts(&statement, "SHOW TAG VALUES FROM \"shot\" WITH KEY = \"line\""
			      " WHERE \"site\" = ");
	influx_quote(&statement, '\'', question->site);
	add_form(form, &statement);
	text_release(&statement);
}

const struct store_dialect influx_dialect = {
    .always_speaks = true,
    .subjects =
	{
	    [SUBJECT_SHOTS] = {"/query", ask_shots, influx_take_shots},
	    [SUBJECT_ABSENCES] = {"/query", ask_absences, influx_take_absences},
	    [SUBJECT_EDGE] = {"/query", ask_edge, influx_take_edge},
	    [SUBJECT_AMOUNT] = {"/query", ask_amount, influx_take_amount},
	    [SUBJECT_LINES] = {"/query", ask_lines, influx_take_lines},
	    [SUBJECT_EVENTS] = {"/query", ask_events, influx_take_events},
	    [SUBJECT_SHIFTS] = {"/query", ask_shifts, influx_take_shifts},
	    [SUBJECT_CHANNELS] = {"/query", ask_channels, influx_take_channels},
	},
};
