/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/found.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"

/* So many shots of any kind are looked at for one of a kind. */
enum { LOOKED_AT = 16, FURTHER = 10 };

/* --- against the reference ------------------------------------------------------------------ */

struct frozen {
	struct found_series series;
	bool failed;
};

static int
take_frozen(void *arg, const struct ledger_reference_shot *shot)
{
	struct frozen *frozen = arg;
	struct findings_shot kept = {
	    .shot_no = shot->shot_no, .at = shot->filed_at, .usual = true};

	memcpy(kept.value, shot->value, sizeof kept.value);
	frozen->failed = !found_series_add(&frozen->series, &kept, shot->lot, "");
	return frozen->failed;
}

/* The run that the shots are held against; what is in the way of it into `trouble`. */
static int
find_reference(struct found *found, const struct session *session, const char *name,
    struct error *error)
{
	struct reference_known *known = &found->reference;
	char words[KIND_TEXT];
	int code = name ? reference_named(known, session->ledger, name, error)
	                : reference_newest(known, session->ledger, &found->kind, error);

	if (code != 0)
		return code;
	found->by_name = name != NULL;
	kind_words(&found->kind, words);
	if (known->id == 0)
		snprintf(found->trouble, sizeof found->trouble,
		    "no reference run is frozen for %s, so nothing is held against "
		    "one: evensoak reference freeze NAME --line %s, over a time in "
		    "which all was well",
		    words, found->kind.line);
	else if (!kind_same(&known->kind, &found->kind)) {
		char other[KIND_TEXT];
		kind_words(&known->kind, other);
		snprintf(found->trouble, sizeof found->trouble,
		    "reference run %s is of line %s, %s; these shots are of line %s, "
		    "%s: not held against it",
		    known->name, known->kind.line, other, found->kind.line, words);
	}
	return 0;
}

static int
judge(struct found *found, const struct session *session, const struct profile *profile,
    const struct found_series *series, struct error *error)
{
	const struct findings_run run = {series->shots, series->count, found->before,
	    found->before + found->shots - 1};
	int code = 0;

	found->in_all = findings_judge(profile, &run, found->list, FOUND_MOST);
	if (found->in_all == FINDINGS_NO_MEMORY) {
		found->in_all = 0;
		return found_series_too_many(error);
	}
	found->count = found->in_all < FOUND_MOST ? found->in_all : FOUND_MOST;
	for (size_t i = 0; i < found->count && code == 0; i++)
		code = found_basis_remark(&found->basis, session, series,
		    &found->list[i], found->remark[i], error);
	return code;
}

int
found_judge(struct found *found, const struct session *session, int line,
    struct found_series *series, struct error *error)
{
	struct frozen frozen = {0};
	struct error reason;
	int code = ledger_read_reference_shots(
	    session->ledger, found->reference.id, take_frozen, &frozen, error);

	if (code == 0 && frozen.failed)
		code = found_series_too_many(error);
	const struct found_held held = {&found->reference, &frozen.series, series,
	    found->before + found->shots - 1};
	if (code == 0)
		code = found_basis_read(&found->basis, session, line, &held, error);
	if (code == 0) {
		found_series_join(&frozen.series);
		found_series_join(series);
		struct profile *profile = profile_new(&session->settings->lines[line],
		    frozen.series.shots, frozen.series.count, &reason);
		if (profile)
			code = judge(found, session, profile, series, error);
		else
			snprintf(found->trouble, sizeof found->trouble,
			    "reference run %s cannot be used: %.400s",
			    found->reference.name, reason.text);
		profile_free(profile);
	}
	found_series_release(&frozen.series);
	return code;
}

/* `series` has found->before and found->after shots beside those asked about. */
static int
make_found(struct found *found, const struct session *session,
    const struct found_asked *asked, struct found_series *series, struct error *error)
{
	found->kind = series->kind;
	found->shots = series->count - found->before - found->after;
	int code = find_reference(found, session, asked->reference, error);
	if (code == 0 && !*found->trouble && series->count < FINDINGS_SHOTS_MIN)
		snprintf(found->trouble, sizeof found->trouble,
		    "%zu shot%s to hold against reference run %s: fewer than %d say "
		    "nothing",
		    series->count, series->count == 1 ? "" : "s", found->reference.name,
		    FINDINGS_SHOTS_MIN);
	if (code != 0 || *found->trouble)
		return code;
	return found_judge(found, session, asked->line, series, error);
}

/* Whether something began before the first shots looked at, of which there are more. */
static bool
is_cut(const struct found_all *all, size_t most)
{
	bool cut = false;

	for (size_t k = 0; k < all->count; k++)
		for (size_t i = 0; i < all->list[k].count; i++)
			cut |= all->list[k].before == most && all->list[k].list[i].cut;
	return cut && most < FOUND_BEFORE_MOST;
}

/* --- a span ------------------------------------------------------------------------------------ */

struct reading_span {
	struct found_series kinds[FOUND_KINDS];
	struct found_series before[FOUND_KINDS]; /* the newest first */
	size_t count, looked_at, most;
	bool more, failed;
};

static size_t
find_kind(const struct reading_span *reading, const struct kind *kind)
{
	size_t i = 0;

	while (i < reading->count && !kind_same(&reading->kinds[i].kind, kind))
		i++;
	return i;
}

static int
take_of_span(void *arg, const struct ledger_shot *shot)
{
	struct reading_span *reading = arg;
	const struct kind kind = kind_of(shot);
	size_t i = find_kind(reading, &kind);

	if (shot->outcome != SHOT_COMPLETE)
		return 0;
	if (i == FOUND_KINDS) {
		reading->more = true;
		return 0;
	}
	if (i == reading->count)
		reading->kinds[reading->count++].kind = kind;
	reading->failed = !found_series_add_shot(&reading->kinds[i], shot);
	return reading->failed;
}

static int
take_before_span(void *arg, const struct ledger_shot *shot)
{
	struct reading_span *reading = arg;
	const struct kind kind = kind_of(shot);
	size_t i = find_kind(reading, &kind);

	if (++reading->looked_at > LOOKED_AT * reading->most)
		return 1;
	if (shot->outcome == SHOT_COMPLETE && i < reading->count &&
	    reading->before[i].count < reading->most)
		reading->failed = !found_series_add_shot(&reading->before[i], shot);
	return reading->failed;
}

static int
read_span(struct reading_span *reading, const struct session *session,
    const struct found_asked *asked, struct error *error)
{
	struct ledger_filter filter = {
	    .line = session->settings->lines[asked->line].name,
	    .from = asked->from,
	    .to = asked->to,
	    .by_time = true,
	};
	int code = ledger_read_shots(
	    session->ledger, &filter, false, take_of_span, reading, error);

	if (code == 0 && !reading->failed && asked->from.ns != 0) {
		filter = (struct ledger_filter){.line = filter.line,
		    .to = asked->from,
		    .newest_first = true,
		    .limit = LOOKED_AT * reading->most};
		code = ledger_read_shots(
		    session->ledger, &filter, false, take_before_span, reading, error);
	}
	for (size_t i = 0; i < reading->count && code == 0 && !reading->failed; i++)
		reading->failed =
		    !found_series_prepend(&reading->kinds[i], &reading->before[i]);
	return code == 0 && reading->failed ? found_series_too_many(error) : code;
}

static int
find_in_span(struct found_all *all, const struct session *session,
    const struct found_asked *asked, size_t most, struct error *error)
{
	struct reading_span *reading = calloc(1, sizeof *reading);

	*all = (struct found_all){0};
	if (!reading)
		return found_series_too_many(error);
	reading->most = most;
	int code = read_span(reading, session, asked, error);
	if (code == 0)
		all->list = calloc(reading->count + 1, sizeof *all->list);
	if (code == 0 && !all->list)
		code = found_series_too_many(error);
	all->more = reading->more;
	for (size_t i = 0; all->list && i < reading->count && code == 0; i++) {
		all->list[i].before = reading->before[i].count;
		code = make_found(&all->list[all->count++], session, asked,
		    &reading->kinds[i], error);
	}
	for (size_t i = 0; i < reading->count; i++) {
		found_series_release(&reading->kinds[i]);
		found_series_release(&reading->before[i]);
	}
	free(reading);
	return code;
}

int
found_read_span(struct found_all *all, const struct session *session,
    const struct found_asked *asked, struct error *error)
{
	size_t most = FOUND_BEFORE;
	int code = find_in_span(all, session, asked, most, error);

	while (code == 0 && is_cut(all, most)) {
		found_release(all);
		most *= FURTHER;
		code = find_in_span(all, session, asked, most, error);
	}
	return code;
}

/* --- one shot ------------------------------------------------------------------------------------ */

struct reading_around {
	const struct ledger_shot *shot;
	struct found_series series; /* of one direction, the nearest first */
	size_t most, looked_at;
	bool later, failed;
};

static int
take_around(void *arg, const struct ledger_shot *shot)
{
	struct reading_around *reading = arg;
	const struct kind kind = kind_of(shot);

	if (++reading->looked_at > LOOKED_AT * reading->most)
		return 1;
	/* by the time it is filed, another may stand beside it */
	if (shot->outcome != SHOT_COMPLETE ||
	    (shot->shot_no > reading->shot->shot_no) != reading->later ||
	    !kind_same(&kind, &reading->series.kind))
		return 0;
	reading->failed = !found_series_add_shot(&reading->series, shot);
	return reading->failed || reading->series.count == reading->most;
}

/* At most found->before shots before it; then there are so many. */
static int
read_around(struct found_series *series, struct found *found,
    const struct session *session, const struct ledger_shot *shot, struct error *error)
{
	const struct kind kind = kind_of(shot);
	struct reading_around before = {
	    .shot = shot, .series.kind = kind, .most = found->before + 1};
	struct reading_around after = {
	    .shot = shot, .series.kind = kind, .most = FOUND_AFTER, .later = true};
	const struct ledger_filter back = {
	    .line = shot->line,
	    .to = {shot->filed_at.ns + 1},
	    .newest_first = true,
	};
	const struct ledger_filter on = {
	    .line = shot->line, .from = shot->filed_at, .by_time = true};
	int code = ledger_read_shots(
	    session->ledger, &back, false, take_around, &before, error);

	if (code == 0)
		code = ledger_read_shots(
		    session->ledger, &on, false, take_around, &after, error);
	*series = (struct found_series){.kind = kind};
	if (code == 0 && (before.failed || after.failed ||
			     !found_series_prepend(series, &before.series) ||
			     !found_series_append(series, &after.series)))
		code = found_series_too_many(error);
	found->before = before.series.count > 0 ? before.series.count - 1 : 0;
	found->after = after.series.count;
	found_series_release(&before.series);
	found_series_release(&after.series);
	return code;
}

static int
find_at_shot(struct found_all *all, const struct session *session,
    const struct found_asked *asked, const struct ledger_shot *shot,
    struct error *error)
{
	struct found *found = all->list;
	struct found_series series;
	int code = read_around(&series, found, session, shot, error);

	if (code == 0)
		code = make_found(found, session, asked, &series, error);
	found_series_release(&series);
	return code;
}

int
found_read_shot(struct found_all *all, const struct session *session,
    const struct found_asked *asked, const struct ledger_shot *shot,
    struct error *error)
{
	size_t most = FOUND_BEFORE;
	int code = 0;

	*all = (struct found_all){.list = calloc(1, sizeof *all->list)};
	if (!all->list)
		return found_series_too_many(error);
	all->count = 1;
	all->list->kind = kind_of(shot);
	if (shot->outcome != SHOT_COMPLETE) {
		snprintf(all->list->trouble, sizeof all->list->trouble,
		    "it was not heated and formed in the usual way: not held against a "
		    "reference run");
		return 0;
	}
	all->list->before = most;
	code = find_at_shot(all, session, asked, shot, error);
	while (code == 0 && is_cut(all, most)) {
		most *= FURTHER;
		*all->list = (struct found){.kind = kind_of(shot), .before = most};
		code = find_at_shot(all, session, asked, shot, error);
	}
	return code;
}

void
found_release(struct found_all *all)
{
	free(all->list);
	*all = (struct found_all){0};
}
