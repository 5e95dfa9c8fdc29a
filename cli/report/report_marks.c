/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_marks.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { DAY_MINUTES = 24 * 60, TICKS_AIMED = 7, LOTS_MOST = 12 };

/* --- changes and notes ------------------------------------------------------------------ */

static void
add_mark(struct report_marks *marks, size_t at, const char *label, bool strong)
{
	if (marks->mark_count == MARKS_MOST) {
		marks->left_out++;
		return;
	}
	size_t i = marks->mark_count++;
	text_copy(marks->mark_labels[i], MARK_LABEL, label);
	marks->marks[i] = (struct run_mark){at, marks->mark_labels[i], strong};
}

static void
add_lots(struct report_marks *marks, const struct run *run)
{
	size_t lots = 0;

	for (size_t i = 0; i < run->count && run->lots > 1; i++) {
		const struct population *one = run->shots[i].population;
		char label[MARK_LABEL];
		if (i > 0 && !run_lot_changes(run, i))
			continue;
		if (++lots > LOTS_MOST) { /* room for notes */
			marks->left_out++;
			continue;
		}
		snprintf(
		    label, sizeof label, "lot %s", *one->lot ? one->lot : "unknown");
		add_mark(marks, i, label, true);
	}
}

struct noting {
	struct report_marks *marks;
	const struct run *run;
	struct wall from, to;
};

/* The first shot at or after a time; run->count: none. */
static size_t
shot_after(const struct run *run, struct wall at)
{
	size_t i = 0;

	while (i < run->count && run_shot_at(run, i).ns < at.ns)
		i++;
	return i;
}

static int
take_note(void *arg, const struct ledger_context *context)
{
	struct noting *noting = arg;
	char label[MARK_LABEL];

	if (strcmp(context->key, context_key_text(CONTEXT_NOTE)) != 0 ||
	    context->from.ns < noting->from.ns || context->from.ns > noting->to.ns)
		return 0;
	snprintf(label, sizeof label, "note: %.40s", context->value);
	add_mark(noting->marks, shot_after(noting->run, context->from), label, false);
	return 0;
}

/* What somebody or something did to the line that its figures may show. */
static const struct {
	const char *kind, *label;
} told_kinds[] = {
    {"set_points", "set points changed"},
    {"start", "logging begins"},
    {"restored", "a copy of the ledger put back"},
};

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct noting *noting = arg;

	for (size_t i = 0; i < sizeof told_kinds / sizeof told_kinds[0]; i++)
		if (strcmp(event->kind, told_kinds[i].kind) == 0)
			add_mark(noting->marks, shot_after(noting->run, event->at),
			    told_kinds[i].label, false);
	return 0;
}

static int
compare_marks(const void *a, const void *b)
{
	const struct run_mark *x = a, *y = b;

	if (x->at != y->at)
		return (x->at > y->at) - (x->at < y->at);
	return y->strong - x->strong;
}

static int
add_notes(struct report_marks *marks, const struct report_line *line,
    const struct run *run, struct error *error)
{
	struct noting noting = {
	    marks, run, run_shot_at(run, 0), run_shot_at(run, run->count - 1)};
	struct ledger_read *ledger = source_ledger(line->source);
	const struct ledger_filter filter = {
	    .line = line->line, .from = noting.from, .to = noting.to, .by_time = true};
	int code = 0;

	if (ledger)
		code =
		    ledger_read_context(ledger, line->line, take_note, &noting, error);
	return code == 0 ? source_read_events(
			       line->source, &filter, take_event, &noting, error)
	                 : code;
}

/* --- the clock ------------------------------------------------------------------------------ */

/* Minutes between two ticks. */
static int
tick_step(double minutes)
{
	static const int steps[] = {5, 10, 15, 30, 60, 120, 180, 240, 360, 720,
	    DAY_MINUTES, 2 * DAY_MINUTES, 7 * DAY_MINUTES, 14 * DAY_MINUTES,
	    28 * DAY_MINUTES, 91 * DAY_MINUTES, 364 * DAY_MINUTES};
	size_t i = 0;

	while (i + 1 < sizeof steps / sizeof steps[0] &&
	       minutes / steps[i] > TICKS_AIMED + 2)
		i++;
	return steps[i];
}

static void
tick_label(struct wall at, int step, char label[static MARK_LABEL])
{
	enum { DATE = sizeof "2026-03-02" - 1, YEAR = sizeof "2026-" - 1, CLOCK = 5 };
	char text[CALENDAR_TEXT];

	calendar_local_text(at, text);
	if (step < DAY_MINUTES)
		snprintf(label, MARK_LABEL, "%.*s", CLOCK, text + DATE + 1);
	else if (step < 28 * DAY_MINUTES)
		snprintf(label, MARK_LABEL, "%.*s", DATE - YEAR, text + YEAR);
	else
		snprintf(label, MARK_LABEL, "%.*s", DATE, text);
}

/* Over a pause two would stand on each other: the later one is left out. */
static void
add_ticks(struct report_marks *marks, const struct run *run)
{
	struct wall first = run_shot_at(run, 0),
		    last = run_shot_at(run, run->count - 1);
	double minutes = (double)(last.ns - first.ns) / 60e9;
	int step = tick_step(minutes);
	struct calendar_date date = calendar_date_of(first);
	size_t apart = run->count / (TICKS_AIMED * 2) + 1;

	for (int64_t k = 0; marks->tick_count < TICKS_MOST; k++) {
		int64_t minute = k * step;
		struct wall at =
		    calendar_local(calendar_date_add(date, (int)(minute / DAY_MINUTES)),
			(int)(minute % DAY_MINUTES));
		size_t shot = shot_after(run, at);
		size_t i = marks->tick_count;
		if (at.ns > last.ns || shot >= run->count)
			return;
		if (at.ns < first.ns ||
		    (i > 0 && shot < marks->ticks[i - 1].at + apart))
			continue;
		tick_label(at, step, marks->tick_labels[i]);
		marks->ticks[i] = (struct run_tick){shot, marks->tick_labels[i]};
		marks->tick_count++;
	}
}

int
report_marks_make(struct report_marks *marks, const struct report_line *line,
    const struct run *run, struct error *error)
{
	*marks = (struct report_marks){0};
	if (run->count == 0)
		return 0;
	add_lots(marks, run);
	int code = add_notes(marks, line, run, error);
	qsort(marks->marks, marks->mark_count, sizeof marks->marks[0], compare_marks);
	add_ticks(marks, run);
	return code;
}
