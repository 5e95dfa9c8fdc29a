/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/verify_view.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/page/page.h"
#include "conf/words.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { NUMBERS_MAX_BYTES = 1 << 20 };

bool
verified_add(struct verified *verified, const struct verify_day *day)
{
	if (verified->count == verified->room) {
		size_t room = verified->room ? verified->room * 2 : 64;
		struct verify_day *days =
		    reallocarray(verified->days, room, sizeof *days);
		if (!days)
			return false;
		verified->days = days;
		verified->room = room;
	}
	verified->days[verified->count++] = *day;
	return true;
}

void
verified_release(struct verified *verified)
{
	for (size_t i = 0; i < verified->count; i++)
		verify_day_release(&verified->days[i]);
	free(verified->days);
	*verified = (struct verified){0};
}

/* --- sums ----------------------------------------------------------------------------------- */

struct sums {
	int64_t shots, events, shifts; /* of the ledger */
	int64_t missing, earlier, fewer, newer, missing_events, missing_shifts;
	int64_t unsent, hidden, alone; /* of all of them */
	int64_t days, differ;          /* that have something; that lack something */
	struct wall first;             /* of what is missing */
};

static void
add_day(struct sums *sums, const struct verify_day *day)
{
	if (day->shifts) {
		sums->shifts += day->ledger;
		sums->missing_shifts += day->missing_count;
	} else if (day->events) {
		sums->events += day->ledger;
		sums->missing_events += day->missing_count;
	} else {
		sums->shots += day->ledger;
		sums->missing += (int64_t)day->missing.count;
		sums->earlier += (int64_t)day->earlier.count;
		sums->fewer += (int64_t)day->fewer.count;
		sums->newer += (int64_t)day->newer.count;
	}
	sums->unsent += day->unsent;
	sums->hidden += day->hidden;
	sums->alone += day->alone;
	if (day->first.ns != 0 &&
	    (sums->first.ns == 0 || day->first.ns < sums->first.ns))
		sums->first = day->first;
}

/* Parts of one day stand together. */
static struct sums
sum(const struct verified *verified)
{
	struct sums sums = {0};

	for (size_t i = 0; i < verified->count;) {
		struct wall day = verified->days[i].from;
		bool any = false, differs = false;
		for (; i < verified->count && verified->days[i].from.ns == day.ns;
		     i++) {
			add_day(&sums, &verified->days[i]);
			any |= verified->days[i].ledger > 0;
			differs |= verified->days[i].missing_count > 0;
		}
		sums.days += any;
		sums.differ += differs;
	}
	return sums;
}

/* --- the tables ------------------------------------------------------------------------------- */

static void
date_of(struct wall at, char date[static CALENDAR_TEXT])
{
	calendar_utc_text(at, 0, date);
	date[strlen("2026-03-02")] = '\0';
}

/* Both lists as "812-815, 820 (an earlier revision: 17)" for people, each for machines. */
static void
put_row(
    struct page *page, const struct verified *verified, const struct verify_day *day)
{
	struct text missing, earlier, fewer, newer;
	char date[CALENDAR_TEXT];

	text_init(&missing, NUMBERS_MAX_BYTES);
	text_init(&earlier, NUMBERS_MAX_BYTES);
	text_init(&fewer, NUMBERS_MAX_BYTES);
	text_init(&newer, NUMBERS_MAX_BYTES);
	numbers_text(&day->missing, &missing);
	numbers_text(&day->earlier, &earlier);
	numbers_text(&day->fewer, &fewer);
	numbers_text(&day->newer, &newer);
	date_of(day->from, date);
	struct cell lacks = cell_count(day->missing_count);
	lacks.tone = day->missing_count > 0 ? TONE_BAD : TONE_PLAIN;
	const struct cell cells[] = {
	    cell_words(verified->store->name),
	    cell_words(date),
	    cell_words(day->shifts   ? "shifts"
		       : day->events ? "events"
				     : "shots"),
	    (day->events || day->shifts) && !day->line ? cell_absent("all")
						       : cell_words(day->line),
	    cell_count(day->ledger),
	    cell_count(day->store),
	    lacks,
	    missing.length > 0 ? cell_words(missing.bytes) : cell_absent(NULL),
	    earlier.length > 0 ? cell_words(earlier.bytes) : cell_absent(NULL),
	    fewer.length > 0 ? cell_words(fewer.bytes) : cell_absent(NULL),
	    cell_count(day->unsent),
	    cell_count(day->hidden),
	    cell_count(day->alone),
	    newer.length > 0 ? cell_words(newer.bytes) : cell_absent(NULL),
	};
	page_row(page, cells);
	text_release(&missing);
	text_release(&earlier);
	text_release(&fewer);
	text_release(&newer);
}

/* Machines get every day; people those that differ. */
static void
put_days(struct page *page, const struct verified *verified, const struct sums *sums,
    bool people)
{
	const struct column columns[] = {
	    {"store", NULL, 0},
	    {"day", people ? "day (UTC)" : NULL, 0},
	    {"of", people ? "of" : NULL, 0},
	    {"line", people ? "line" : NULL, 0},
	    {"ledger", people ? "ledger" : NULL, 0},
	    {"found", people ? "store" : NULL, 0},
	    {"missing", people ? "missing" : NULL, 0},
	    {"missing_shots", people ? "shots missing" : NULL, 0},
	    {"earlier_shots", people && sums->earlier > 0 ? "not as corrected" : NULL,
		0},
	    {"fewer_values", people && sums->fewer > 0 ? "values lacking" : NULL, 0},
	    {"not_sent", NULL, 0},
	    {"not_visible", NULL, 0},
	    {"store_alone", NULL, 0},
	    {"newer_shots", people && sums->newer > 0 ? "corrected later" : NULL, 0},
	};

	page_table(page, people ? NULL : "days", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < verified->count; i++)
		if (!people || verified->days[i].missing_count > 0 ||
		    verified->days[i].newer.count > 0)
			put_row(page, verified, &verified->days[i]);
	page_table_end(page);
}

/* --- sentences ---------------------------------------------------------------------------------- */

static const char *
plural(int64_t count)
{
	return count == 1 ? "" : "s";
}

static void
tell_agreement(struct page *page, const struct sums *sums)
{
	int64_t agree = sums->days - sums->differ;

	if (sums->differ == 0)
		page_note(page, NULL, sums->newer > 0 ? TONE_PLAIN : TONE_GOOD,
		    "nothing is missing: %" PRId64 " day%s, %" PRId64
		    " shot%s, %" PRId64 " event%s and %" PRId64
		    " closed shift%s in the ledger",
		    sums->days, plural(sums->days), sums->shots, plural(sums->shots),
		    sums->events, plural(sums->events), sums->shifts,
		    plural(sums->shifts));
	else
		page_note(page, NULL, TONE_PLAIN,
		    "%" PRId64 " day%s agree%s, %" PRId64 " do%s not", agree,
		    plural(agree), agree == 1 ? "s" : "", sums->differ,
		    sums->differ == 1 ? "es" : "");
}

/* "4 shots, the last correction of 2 shots and 1 event", as far as there are such. */
static void
tell_what(struct page *page, const char *store, const struct sums *sums)
{
	const struct {
		int64_t count;
		const char *before, *what;
	} parts[] = {
	    {sums->missing, "", "shot"},
	    {sums->earlier, "the last correction of ", "shot"},
	    {sums->fewer, "some of the values of ", "shot"},
	    {sums->missing_events, "", "event"},
	    {sums->missing_shifts, "", "closed shift"},
	};
	char text[160] = "";

	for (size_t i = 0, length = 0; i < COUNT(parts); i++)
		if (parts[i].count > 0)
			length += (size_t)snprintf(text + length, sizeof text - length,
			    "%s%s%" PRId64 " %s%s", length > 0 ? ", " : "",
			    parts[i].before, parts[i].count, parts[i].what,
			    plural(parts[i].count));
	page_note(page, NULL, TONE_BAD, "store %s took and has not: %s", store, text);
}

static void
tell_missing(
    struct page *page, const struct verified *verified, const struct sums *sums)
{
	char from[CALENDAR_TEXT];
	const char *name = verified->store->name;

	if (sums->differ == 0)
		return;
	/* a second earlier at most, and then what else was in it */
	calendar_utc_text(
	    (struct wall){sums->first.ns - sums->first.ns % CLOCK_SECOND_NS}, 0, from);
	tell_what(page, name, sums);
	page_note(page, NULL, TONE_PLAIN,
	    "was it restored from an old backup, or does it keep points for a shorter "
	    "time? All from then on goes out again by 'evensoak resend %s --from %s'",
	    name, from);
	if (verified->lack.refused > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "%" PRId64 " line%s that it refused may be among what is missing: "
		    "'evensoak resend %s --refused --dry-run' lists them",
		    verified->lack.refused, plural(verified->lack.refused), name);
}

/* What a ledger that was restored from a copy lacks. */
static void
tell_newer(struct page *page, const char *store, const struct sums *sums)
{
	if (sums->newer > 0)
		page_note(page, NULL, TONE_BAD,
		    "store %s has a later correction of %" PRId64 " shot%s than this "
		    "ledger, which was restored from an older copy or is not the one "
		    "that sends: 'evensoak shots --from %s' shows it; enter the tool, "
		    "lot or material here again, or recompute, and it goes out anew",
		    store, sums->newer, plural(sums->newer), store);
}

static void
tell_rest(struct page *page, const struct verified *verified, const struct sums *sums)
{
	if (sums->unsent > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "not sent yet, and so not missing: %" PRId64, sums->unsent);
	if (sums->hidden > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "of the last two minutes, which it does not show at once, and so "
		    "not missing: %" PRId64,
		    sums->hidden);
	if (verified->twice > 0)
		page_note(page, NULL, TONE_BAD,
		    "store %s keeps %zu point%s more than once, which spoils sums and "
		    "counts of dashboards: start it with -dedup.minScrapeInterval=1ms; "
		    "that mends what it has, too",
		    verified->store->name, verified->twice,
		    plural((int64_t)verified->twice));
	if (sums->alone > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "in store %s and not in this ledger: %" PRId64 "; from before the "
		    "ledger was shortened or made anew, or another computer sends "
		    "under the same names of site and line",
		    verified->store->name, sums->alone);
}

/* As the days of the table are, which are those of the points. */
static void
put_utc(struct page *page, const char *key, const char *title, struct wall at)
{
	struct cell cell = cell_time(at);
	char text[CALENDAR_TEXT];

	calendar_utc_text(at, 0, text);
	cell.instead = text;
	page_field(page, key, title, cell);
}

static void
put_head(struct page *page, const struct verified *verified)
{
	char heading[SETTINGS_NAME + 16];

	snprintf(heading, sizeof heading, "Store %s", verified->store->name);
	page_open(page, GROUP_ITEM, NULL, heading);
	page_field(page, "store", NULL, cell_words(verified->store->name));
	page_field(
	    page, "kind", "kind", cell_words(words_store.list[verified->store->kind]));
	page_field(page, "url", "at",
	    cell_words(*verified->store->query_url ? verified->store->query_url
						   : verified->store->url));
	put_utc(page, "from", "looked at from", verified->from);
	put_utc(page, "to", "until", verified->to);
}

bool
verified_put(struct page *page, const struct verified *verified)
{
	struct sums sums = sum(verified);

	put_head(page, verified);
	page_field(page, "shots", NULL, cell_count(sums.shots));
	page_field(page, "missing", NULL, cell_count(sums.missing));
	page_field(page, "earlier", NULL, cell_count(sums.earlier));
	page_field(page, "fewer", NULL, cell_count(sums.fewer));
	page_field(page, "newer", NULL, cell_count(sums.newer));
	page_field(page, "missing_events", NULL, cell_count(sums.missing_events));
	page_field(page, "missing_shifts", NULL, cell_count(sums.missing_shifts));
	page_field(page, "not_sent", NULL, cell_count(sums.unsent));
	page_field(page, "not_visible", NULL, cell_count(sums.hidden));
	page_field(page, "store_alone", NULL, cell_count(sums.alone));
	page_field(page, "twice", NULL, cell_count((int64_t)verified->twice));
	put_days(page, verified, &sums, false);
	put_days(page, verified, &sums, true);
	tell_agreement(page, &sums);
	tell_missing(page, verified, &sums);
	tell_newer(page, verified->store->name, &sums);
	tell_rest(page, verified, &sums);
	page_close(page);
	return sums.differ > 0 || sums.newer > 0;
}

void
verified_put_failure(
    struct page *page, const struct verified *verified, const struct error *error)
{
	put_head(page, verified);
	page_note(page, "error", TONE_BAD, "cannot be read back: %s", error->text);
	page_close(page);
}
