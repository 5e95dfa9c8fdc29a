/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_hold.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>

#include "cli/report/report_hold_words.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NUMBERS_ROOM = 1 << 20, LOTS_ROOM = 1 << 14, BOUND = 80 };

/* A run with what is told of it. */
struct told {
	const struct suspect_run *run;
	struct ranges numbers; /* to hold */
	int64_t count;         /* of them */
	struct text shots, lots;
	int64_t without_record, before; /* of them; made before the time */
};

static int
no_memory(struct error *error)
{
	return error_set(error, ERROR_MEMORY, "out of memory: say a shorter time");
}

static bool
told_make(
    struct told *told, const struct suspects *suspects, const struct suspect_run *run)
{
	*told = (struct told){.run = run};
	text_init(&told->shots, NUMBERS_ROOM);
	text_init(&told->lots, LOTS_ROOM);
	if (!suspect_run_numbers(suspects, run, &told->numbers))
		return false;
	told->count = ranges_numbers(&told->numbers);
	ranges_text(&told->numbers, &told->shots);
	report_hold_words_lots(suspects, run, &told->lots);
	told->before = suspect_run_before(suspects, run);
	for (size_t i = 0; i < run->reason_count; i++) {
		const struct suspect_reason *reason =
		    &suspects->reasons[run->reason_first + i];
		if (reason->kind == SUSPECT_NO_RECORD)
			told->without_record += reason->last - reason->first + 1;
	}
	return !told->shots.failed && !told->lots.failed;
}

static void
told_release(struct told *told)
{
	ranges_release(&told->numbers);
	text_release(&told->shots);
	text_release(&told->lots);
}

static const char *
text_of(const struct text *text)
{
	return text->bytes ? text->bytes : "";
}

/* --- bounds ---------------------------------------------------------------------------------- */

static struct cell
number_cell(const struct suspects *suspects, size_t shot)
{
	return shot == SUSPECT_NONE ? cell_absent(NULL)
	                            : cell_count(suspects->asked->shots[shot].shot_no);
}

static struct cell
time_cell(const struct suspects *suspects, size_t shot)
{
	return shot == SUSPECT_NONE ? cell_absent(NULL)
	                            : cell_time(suspects->asked->shots[shot].filed_at);
}

static struct cell
first_bad_cell(const struct suspect_run *run)
{
	return run->first_bad > 0 ? cell_count(run->first_bad) : cell_absent(NULL);
}

/* "70, at 2026-03-02 09:30:00" */
static void
put_bound(
    const struct report_hold *report, const char *title, size_t shot, const char *none)
{
	char words[BOUND], at[CALENDAR_TEXT];

	if (shot == SUSPECT_NONE) {
		page_field(report->page, NULL, title, cell_absent(none));
		return;
	}
	const struct ledger_shot *one = &report->suspects->asked->shots[shot];
	calendar_local_text(one->filed_at, at);
	snprintf(words, sizeof words, "%" PRId64 ", of %s", one->shot_no, at);
	page_field(report->page, NULL, title, cell_words(words));
}

static void
put_last_good(const struct report_hold *report, size_t shot)
{
	char none[BOUND];

	if (report->begins)
		snprintf(none, sizeof none, "none: the record begins after it");
	else
		snprintf(none, sizeof none,
		    "none among the %zu shots before this time; look further back, "
		    "--from",
		    report->back);
	put_bound(report, "last known good before", shot, none);
}

/* --- a run ------------------------------------------------------------------------------------ */

/* Whether one like it was told before; `told` are those that were, as places. */
static bool
is_told(const struct suspects *suspects, const struct numbers *told, size_t place)
{
	for (size_t i = 0; i < told->count; i++)
		if (report_hold_words_alike(suspects,
			&suspects->reasons[(size_t)told->list[i]],
			&suspects->reasons[place]))
			return true;
	return false;
}

static bool
put_reason(const struct report_hold *report, const struct suspect_run *run,
    const struct suspect_reason *reason)
{
	char words[REPORT_HOLD_WORDS];
	struct text numbers;

	text_init(&numbers, NUMBERS_ROOM);
	report_hold_words(report->suspects, reason, words);
	bool done = report_hold_words_numbers(report->suspects, run, reason, &numbers);
	const struct cell cells[] = {
	    cell_words(suspect_kind_text(reason->kind)),
	    reason->feature >= 0 ? cell_words(feature_get(reason->feature)->name)
				 : cell_absent(NULL),
	    cell_words(words),
	    shown_name(text_of(&numbers)),
	};
	page_row(report->page, cells);
	text_release(&numbers);
	return done;
}

static int
put_reasons(const struct report_hold *report, const struct suspect_run *run,
    struct error *error)
{
	static const struct column columns[] = {
	    {"kind", NULL, 0},
	    {"characteristic", NULL, 0},
	    {"words", "held for", 0},
	    {"shots", "shots", 0},
	};
	const struct suspects *suspects = report->suspects;
	struct numbers told = {0};
	bool done = true;

	page_table(report->page, "reasons", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < run->reason_count && done; i++) {
		size_t place = run->reason_first + i;
		if (is_told(suspects, &told, place))
			continue;
		done = put_reason(report, run, &suspects->reasons[place]) &&
		       numbers_add(&told, (int64_t)place);
	}
	free(told.list);
	page_table_end(report->page);
	return done ? 0 : no_memory(error);
}

static int
put_run(const struct report_hold *report, const struct told *told, struct error *error)
{
	const struct suspects *suspects = report->suspects;
	const struct suspect_run *run = told->run;
	struct page *page = report->page;
	char heading[128];

	if (told->count == 0)
		snprintf(heading, sizeof heading,
		    "%s: hold and inspect what was made while nothing was logged",
		    report->line);
	else
		snprintf(heading, sizeof heading,
		    "%s: hold and inspect %" PRId64 " part%s", report->line,
		    told->count, told->count == 1 ? "" : "s");
	page_open(page, GROUP_ITEM, NULL, heading);
	page_field(page, "line", NULL, cell_words(report->line));
	page_field(page, "class", NULL, cell_words(REPORT_HOLD_CLASS));
	page_field(page, "count", NULL, cell_count(told->count));
	page_field(page, "without_record",
	    told->without_record > 0 ? "without a record" : NULL,
	    cell_count(told->without_record));
	page_field(page, "before_time",
	    told->before > 0 ? "made before this time" : NULL,
	    cell_count(told->before));
	page_field(page, "shots", "shots", shown_name(text_of(&told->shots)));
	page_field(page, "lots", "lots", shown_name(text_of(&told->lots)));
	page_field(page, "first_bad", "first suspect", first_bad_cell(run));
	page_field(
	    page, "first_bad_at", NULL, time_cell(suspects, run->first_bad_shot));
	page_field(page, "last_good", NULL, number_cell(suspects, run->last_good));
	page_field(page, "last_good_at", NULL, time_cell(suspects, run->last_good));
	page_field(page, "first_good", NULL, number_cell(suspects, run->first_good));
	page_field(page, "first_good_at", NULL, time_cell(suspects, run->first_good));
	put_last_good(report, run->last_good);
	put_bound(report, "first known good after", run->first_good,
	    "none so far: it may go on");
	int code = put_reasons(report, run, error);
	page_close(page);
	return code;
}

int
report_hold_put(const struct report_hold *report, struct error *error)
{
	int code = 0;

	page_open(report->page, GROUP_LIST, "holds", NULL);
	for (size_t i = 0; i < report->runs->count && code == 0; i++) {
		struct told told;
		code = told_make(&told, report->suspects, &report->runs->list[i])
		           ? put_run(report, &told, error)
		           : no_memory(error);
		told_release(&told);
	}
	page_close(report->page);
	return code;
}

/* --- as a table --------------------------------------------------------------------------------- */

int
report_hold_put_table(const struct report_hold *report, struct error *error)
{
	static const struct column columns[] = {
	    {"line", "line", 0},
	    {"first_bad", "first suspect", 0},
	    {"first_bad_at", NULL, 0},
	    {"last_good", "last good", 0},
	    {"last_good_at", NULL, 0},
	    {"first_good", "first good", 0},
	    {"first_good_at", NULL, 0},
	    {"count", "count", 0},
	    {"without_record", NULL, 0},
	    {"before_time", NULL, 0},
	    {"lots", "lots", 0},
	    {"shots", "shots", 0},
	    {"class", NULL, 0},
	};
	const struct suspects *suspects = report->suspects;
	bool done = true;

	page_table(report->page, "holds_table", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < report->runs->count && done; i++) {
		const struct suspect_run *run = &report->runs->list[i];
		struct told told;
		done = told_make(&told, suspects, run);
		const struct cell cells[] = {
		    cell_words(report->line),
		    first_bad_cell(run),
		    time_cell(suspects, run->first_bad_shot),
		    number_cell(suspects, run->last_good),
		    time_cell(suspects, run->last_good),
		    number_cell(suspects, run->first_good),
		    time_cell(suspects, run->first_good),
		    cell_count(told.count),
		    cell_count(told.without_record),
		    cell_count(told.before),
		    shown_name(text_of(&told.lots)),
		    shown_name(text_of(&told.shots)),
		    cell_words(REPORT_HOLD_CLASS),
		};
		if (done)
			page_row(report->page, cells);
		told_release(&told);
	}
	page_table_end(report->page);
	return done ? 0 : no_memory(error);
}

/* --- how it was judged ---------------------------------------------------------------------------- */

/* Names of features, for a sentence; released by the caller. */
static void
names_of(const bool which[FEATURE_COUNT], struct text *names)
{
	text_init(names, LOTS_ROOM);
	for (int id = 0; id < FEATURE_COUNT; id++)
		if (which[id])
			text_printf(names, "%s%s", names->length ? ", " : "",
			    feature_get(id)->name);
}

static void
put_unjudged(const struct report_hold *report)
{
	struct text names;

	names_of(report->suspects->unmeasured, &names);
	if (names.length > 0)
		page_note(report->page, "unmeasured", TONE_PLAIN,
		    "%s: never measured on line %s, so not judged, though the set-up "
		    "has limits",
		    names.bytes, report->line);
	text_release(&names);
	names_of(report->suspects->wanders, &names);
	if (names.length > 0)
		page_note(report->page, "wanders", TONE_BAD,
		    "%s: unstable, and since when cannot be told, so no part is listed "
		    "for that; look at its picture in 'evensoak report'",
		    names.bytes);
	text_release(&names);
}

void
report_hold_put_remarks(const struct report_hold *report)
{
	const struct suspects *suspects = report->suspects;
	struct page *page = report->page;

	put_unjudged(report);
	if (suspects->without_limits > 0)
		page_note(page, "without_limits", TONE_BAD,
		    "%zu complete shots of line %s have no limits to be judged by: "
		    "nothing is known of them, and they bound nothing. Add [limits "
		    "...] for their recipe, or give --lower, --upper with "
		    "--characteristic.",
		    suspects->without_limits, report->line);
	if (suspects->too_few > 0)
		page_note(page, "too_few", TONE_PLAIN,
		    "%zu complete shots are too few of their recipe, tool and lot (at "
		    "least %d) to tell whether they were stable: judged by limits "
		    "alone; take a longer time",
		    suspects->too_few, STABILITY_LEAST);
	if (suspects->startup > 0)
		page_note(page, "startup", TONE_PLAIN,
		    "%zu start-up shot%s within the limits: neither good nor suspect, "
		    "and held only where no good one stands between",
		    suspects->startup, suspects->startup == 1 ? "" : "s");
	if (suspects->judged > 0)
		page_note(page, "stability", TONE_PLAIN,
		    "%zu series tried for stability, each with a false alarm of 5 %%: "
		    "chance alone calls about %.1f of them unstable. The range in "
		    "which "
		    "a change began holds it in about 95 %% of series.",
		    suspects->judged, 0.05 * (double)suspects->judged);
}
