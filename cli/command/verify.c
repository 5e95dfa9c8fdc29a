/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/verify.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/source/source.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_shift.h"

void
verify_list_add(struct verify_list *list, const struct verify_shot *shot)
{
	if (list->count == list->room) {
		size_t room = list->room ? list->room * 2 : 256;
		struct verify_shot *shots =
		    reallocarray(list->shots, room, sizeof *shots);
		if (!shots) {
			list->failed = true;
			return;
		}
		list->shots = shots;
		list->room = room;
	}
	list->shots[list->count++] = *shot;
}

void
verify_list_release(struct verify_list *list)
{
	free(list->shots);
	*list = (struct verify_list){0};
}

void
verify_day_release(struct verify_day *day)
{
	free(day->missing.list);
	free(day->earlier.list);
	free(day->fewer.list);
	free(day->newer.list);
	day->missing = day->earlier = day->fewer = day->newer = (struct numbers){0};
}

/* --- comparing ------------------------------------------------------------------------------ */

/* By number; of one shot the highest revision first, and that with the most values. */
static int
by_number(const void *a, const void *b)
{
	const struct verify_shot *x = a, *y = b;

	if (x->shot_no != y->shot_no)
		return x->shot_no < y->shot_no ? -1 : 1;
	if (x->revision != y->revision)
		return x->revision < y->revision ? 1 : -1;
	return y->values - x->values;
}

/* Leaves of each shot the highest revision alone. */
static void
sort(struct verify_list *list)
{
	size_t kept = 0;

	if (list->count == 0)
		return;
	qsort(list->shots, list->count, sizeof list->shots[0], by_number);
	for (size_t i = 1; i < list->count; i++)
		if (list->shots[i].shot_no != list->shots[kept].shot_no)
			list->shots[++kept] = list->shots[i];
	list->count = kept + 1;
}

static bool
is_hidden(const struct verify_terms *terms, struct wall at)
{
	return terms->hidden_from.ns != 0 && at.ns >= terms->hidden_from.ns;
}

/* A shot of the ledger; `there` is the store's of that number, NULL: none. */
static bool
judge(struct verify_day *day, const struct verify_shot *shot,
    const struct verify_shot *there, const struct verify_terms *terms)
{
	bool is_there = there && there->revision >= shot->revision;
	bool fewer = is_there && there->revision == shot->revision &&
	             there->values < shot->values;

	if (is_there && there->revision > shot->revision)
		return numbers_add(&day->newer, shot->shot_no);
	if (is_there && !fewer)
		return true;
	if (shot->change > terms->shot_cursor) {
		day->unsent++;
		return true;
	}
	if (is_hidden(terms, shot->filed_at)) {
		day->hidden++;
		return true;
	}
	day->missing_count++;
	if (day->first.ns == 0 || shot->filed_at.ns < day->first.ns)
		day->first = shot->filed_at;
	return numbers_add(fewer   ? &day->fewer
			   : there ? &day->earlier
				   : &day->missing,
	    shot->shot_no);
}

bool
verify_compare(struct verify_day *day, struct verify_list *ledger,
    struct verify_list *store, const struct verify_terms *terms)
{
	bool whole = !ledger->failed && !store->failed;
	size_t at = 0;

	sort(ledger);
	sort(store);
	day->ledger = (int64_t)ledger->count;
	day->store = (int64_t)store->count;
	for (size_t i = 0; i < ledger->count; i++) {
		const struct verify_shot *shot = &ledger->shots[i], *there = NULL;
		for (; at < store->count && store->shots[at].shot_no < shot->shot_no;
		     at++)
			day->alone++;
		if (at < store->count && store->shots[at].shot_no == shot->shot_no)
			there = &store->shots[at++];
		whole &= judge(day, shot, there, terms);
	}
	day->alone += (int64_t)(store->count - at);
	return whole;
}

/* --- reading -------------------------------------------------------------------------------- */

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct verify_list *list = arg;
	int values = 0;

	for (int i = 0; i < FEATURE_COUNT; i++)
		values += shot->absent[i] == ABSENT_NOT;
	verify_list_add(list, &(struct verify_shot){shot->shot_no, shot->revision,
				  shot->change, shot->filed_at, values});
	return list->failed;
}

static int
out_of_memory(struct error *error)
{
	return error_set(error, ERROR_MEMORY, "out of memory for the shots of a day");
}

static int
read_shots(struct verify_day *day, struct ledger_read *ledger, struct source *source,
    const struct verify_terms *terms, struct error *error)
{
	const struct ledger_filter filter = {
	    .line = day->line, .from = day->from, .to = day->to, .by_time = true};
	struct verify_list ours = {0}, theirs = {0};
	int code = ledger_read_shots(ledger, &filter, false, take_shot, &ours, error);

	if (code == 0)
		code = source_read_shots(
		    source, &filter, false, take_shot, &theirs, error);
	if (code == 0 && !verify_compare(day, &ours, &theirs, terms))
		code = out_of_memory(error);
	verify_list_release(&ours);
	verify_list_release(&theirs);
	return code;
}

/* --- events --------------------------------------------------------------------------------- */

/* An event, told by when it was and of what: the whole microsecond, as it is sent.  Or a
 * shift, by its beginning. */
struct happened {
	int64_t us;
	uint64_t what;    /* hash of line and kind, or shift */
	int64_t revision; /* of a shift */
	int64_t change;
};

struct happenings {
	struct happened *list;
	size_t count, room;
	bool failed;
};

static int
add_happened(struct happenings *all, const char *line, const char *kind,
    const struct happened *added)
{
	char what[2 * LEDGER_NAME];

	if (all->count == all->room) {
		size_t room = all->room ? all->room * 2 : 256;
		struct happened *list = reallocarray(all->list, room, sizeof *list);
		if (!list) {
			all->failed = true;
			return 1;
		}
		all->list = list;
		all->room = room;
	}
	int length = snprintf(what, sizeof what, "%s\n%s", line, kind);
	all->list[all->count] = *added;
	all->list[all->count++].what = text_hash(what, (size_t)length);
	return 0;
}

static int
take_event(void *arg, const struct ledger_event *event)
{
	return add_happened(arg, event->line, event->kind,
	    &(struct happened){.us = event->at.ns / 1000, .change = event->change});
}

/* Of the ledger, to the second as it is sent; one that began before the day is of that. */
static int
take_shift(void *arg, const struct ledger_shift *shift)
{
	int64_t second = shift->from.ns / CLOCK_SECOND_NS;

	return add_happened(arg, shift->line, shift->shift,
	    &(struct happened){.us = second * 1000000,
		.revision = shift->revision,
		.change = shift->change});
}

/* Of the store. */
static int
take_sent_shift(void *arg, const struct ledger_event *shift)
{
	int64_t revision = 0;

	text_integer(shift->text, &revision);
	return add_happened(arg, shift->line, shift->kind,
	    &(struct happened){.us = shift->at.ns / 1000, .revision = revision});
}

static int
by_moment(const void *a, const void *b)
{
	const struct happened *x = a, *y = b;

	if (x->us != y->us)
		return x->us < y->us ? -1 : 1;
	return (x->what > y->what) - (x->what < y->what);
}

/* Of one shift the highest revision first. */
static int
by_revision(const void *a, const void *b)
{
	const struct happened *x = a, *y = b;
	int order = by_moment(a, b);

	return order != 0 ? order
	                  : (x->revision < y->revision) - (x->revision > y->revision);
}

static void
judge_event(struct verify_day *day, const struct happened *event,
    const struct verify_terms *terms)
{
	struct wall at = {event->us * 1000};
	int64_t cursor = day->shifts ? terms->shift_cursor : terms->event_cursor;

	if (event->change > cursor) {
		day->unsent++;
	} else if (is_hidden(terms, at)) {
		day->hidden++;
	} else {
		day->missing_count++;
		if (day->first.ns == 0)
			day->first = at;
	}
}

/* Whether it is the one before once more, as a store may keep what was sent again. */
static bool
is_again(const struct happenings *all, size_t at)
{
	return at > 0 && by_moment(&all->list[at], &all->list[at - 1]) == 0;
}

static void
compare_events(struct verify_day *day, struct happenings *ledger,
    struct happenings *store, const struct verify_terms *terms)
{
	size_t at = 0;

	if (ledger->count > 0)
		qsort(ledger->list, ledger->count, sizeof ledger->list[0], by_revision);
	if (store->count > 0)
		qsort(store->list, store->count, sizeof store->list[0], by_revision);
	day->ledger = (int64_t)ledger->count;
	day->store = 0;
	for (size_t i = 0; i < store->count; i++) /* of a shift all revisions are one */
		day->store += !day->shifts || !is_again(store, i);
	for (size_t i = 0; i < ledger->count; i++) {
		const struct happened *event = &ledger->list[i];
		for (; at < store->count && by_moment(&store->list[at], event) < 0;
		     at++)
			day->alone += !is_again(store, at);
		bool there =
		    at < store->count && by_moment(&store->list[at], event) == 0;
		if (!there || store->list[at].revision < event->revision)
			judge_event(day, event, terms);
		at += there;
	}
	for (; at < store->count; at++)
		day->alone += !is_again(store, at);
}

static int
read_events(struct verify_day *day, struct ledger_read *ledger, struct source *source,
    const struct verify_terms *terms, struct error *error)
{
	const struct ledger_filter filter = {
	    .line = day->line, .from = day->from, .to = day->to, .by_time = true};
	struct happenings ours = {0}, theirs = {0};
	int code = ledger_read_events(ledger, &filter, take_event, &ours, error);

	if (code == 0)
		code = source_read_events(source, &filter, take_event, &theirs, error);
	if (code == 0 && (ours.failed || theirs.failed))
		code = out_of_memory(error);
	if (code == 0)
		compare_events(day, &ours, &theirs, terms);
	free(ours.list);
	free(theirs.list);
	return code;
}

/* Those that begin in the day. */
static void
keep_beginning(struct happenings *shifts, const struct verify_day *day)
{
	size_t kept = 0;

	for (size_t i = 0; i < shifts->count; i++)
		if (shifts->list[i].us * 1000 >= day->from.ns)
			shifts->list[kept++] = shifts->list[i];
	shifts->count = kept;
}

static int
read_shifts(struct verify_day *day, struct ledger_read *ledger, struct source *source,
    const struct verify_terms *terms, struct error *error)
{
	const struct ledger_filter filter = {
	    .line = day->line, .from = day->from, .to = day->to, .by_time = true};
	const struct ledger_shift_filter own = {
	    .line = day->line, .from = day->from, .to = day->to};
	struct happenings ours = {0}, theirs = {0};
	int code = ledger_read_shifts(ledger, &own, take_shift, &ours, error);

	if (code == 0)
		code = source_read_shifts(
		    source, &filter, take_sent_shift, &theirs, error);
	if (code == 0 && (ours.failed || theirs.failed))
		code = out_of_memory(error);
	if (code == 0) {
		keep_beginning(&ours, day);
		compare_events(day, &ours, &theirs, terms);
	}
	free(ours.list);
	free(theirs.list);
	return code;
}

int
verify_day_read(struct verify_day *day, struct ledger_read *ledger,
    struct source *source, const struct verify_terms *terms, struct error *error)
{
	if (day->shifts)
		return read_shifts(day, ledger, source, terms, error);
	return day->events ? read_events(day, ledger, source, terms, error)
	                   : read_shots(day, ledger, source, terms, error);
}
