/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/found.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* How far back the shots of one kind are looked for, and so many shots of any. */
enum { LOOKED_AT_MOST = 1000, SHOTS_MOST = 100000 };

struct naming {
	const char *wanted;
	char near[LEDGER_NAME];
	bool there;
};

static int
take_name(void *arg, const struct ledger_reference *reference)
{
	struct naming *naming = arg;

	if (!*naming->near && text_nearest(naming->wanted, &reference->name, 1))
		text_copy(naming->near, sizeof naming->near, reference->name);
	naming->there = strcmp(reference->name, naming->wanted) == 0;
	return naming->there;
}

enum command_exit
found_check(const struct call *call, const struct session *session)
{
	struct naming naming = {.wanted = call->option[OPTION_REFERENCE]};
	struct error error;

	if (!naming.wanted)
		return COMMAND_DONE;
	if (ledger_read_references(session->ledger, take_name, &naming, &error) != 0)
		return command_cannot(call, &error);
	if (naming.there)
		return COMMAND_DONE;
	return command_usage(call, "there is no reference run '%s'%s%s%s",
	    naming.wanted, *naming.near ? "; did you mean '" : "", naming.near,
	    *naming.near ? "'?" : "");
}

/* --- shots of one kind, growing ------------------------------------------------------------ */

struct lot {
	char name[LEDGER_NAME];
};

struct series {
	struct kind kind;
	struct findings_shot *shots;
	struct lot *lots; /* of the shots, beside them: both grow, then are joined */
	size_t count, room;
};

static bool
series_grow(struct series *series)
{
	size_t room = series->room ? series->room * 2 : 64;
	struct findings_shot *shots = reallocarray(series->shots, room, sizeof *shots);

	if (!shots)
		return false;
	series->shots = shots;
	struct lot *lots = reallocarray(series->lots, room, sizeof *lots);
	if (!lots)
		return false;
	series->lots = lots;
	series->room = room;
	return true;
}

static bool
series_add(struct series *series, int64_t shot_no, struct wall at, const char *lot,
    const double *value)
{
	if (series->count == SHOTS_MOST ||
	    (series->count == series->room && !series_grow(series)))
		return false;
	struct findings_shot *shot = &series->shots[series->count];
	shot->shot_no = shot_no;
	shot->at = at;
	shot->usual = true;
	memcpy(shot->value, value, sizeof shot->value);
	text_copy(series->lots[series->count++].name, LEDGER_NAME, lot);
	return true;
}

/* The names stay where they are from now on. */
static void
series_join(struct series *series)
{
	for (size_t i = 0; i < series->count; i++)
		series->shots[i].lot = series->lots[i].name;
}

static void
series_reverse(struct series *series)
{
	for (size_t a = 0, b = series->count; a + 1 < b; a++) {
		const struct findings_shot shot = series->shots[a];
		const struct lot lot = series->lots[a];
		b--;
		series->shots[a] = series->shots[b];
		series->lots[a] = series->lots[b];
		series->shots[b] = shot;
		series->lots[b] = lot;
	}
}

static void
series_release(struct series *series)
{
	free(series->shots);
	free(series->lots);
	*series = (struct series){0};
}

static int
out_of_memory(struct error *error)
{
	return error_set(error, ERROR_MEMORY,
	    "out of memory, or more than %d shots: say a shorter time", SHOTS_MOST);
}

/* --- against the reference ------------------------------------------------------------------ */

struct frozen {
	struct series series;
	bool failed;
};

static int
take_frozen(void *arg, const struct ledger_reference_shot *shot)
{
	struct frozen *frozen = arg;

	frozen->failed = !series_add(
	    &frozen->series, shot->shot_no, shot->filed_at, shot->lot, shot->value);
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
judge(struct found *found, const struct session *session, int line,
    const struct series *series, struct error *error)
{
	struct frozen frozen = {0};
	struct error reason;
	struct profile *profile = NULL;
	int code = ledger_read_reference_shots(
	    session->ledger, found->reference.id, take_frozen, &frozen, error);

	if (code == 0 && frozen.failed)
		code = out_of_memory(error);
	if (code == 0) {
		series_join(&frozen.series);
		profile = profile_new(&session->settings->lines[line],
		    frozen.series.shots, frozen.series.count, &reason);
		if (!profile)
			snprintf(found->trouble, sizeof found->trouble,
			    "reference run %s cannot be used: %.400s",
			    found->reference.name, reason.text);
	}
	if (profile)
		found->count = findings_judge(
		    profile, series->shots, series->count, found->list, FINDINGS_MAX);
	if (found->count == FINDINGS_NO_MEMORY) {
		found->count = 0;
		code = out_of_memory(error);
	}
	for (size_t i = 0; *found->calibrated_since && i < found->count; i++)
		found->list[i].sure = FINDING_POSSIBLE; /* a correction may be all */
	profile_free(profile);
	series_release(&frozen.series);
	return code;
}

static int
make_found(struct found *found, const struct session *session,
    const struct found_asked *asked, struct series *series, struct error *error)
{
	found->kind = series->kind;
	found->shots = series->count;
	series_join(series);
	int code = find_reference(found, session, asked->reference, error);
	if (code == 0 && !*found->trouble && series->count < FINDINGS_SHOTS_MIN)
		snprintf(found->trouble, sizeof found->trouble,
		    "%zu shot%s to hold against reference run %s: fewer than %d say "
		    "nothing",
		    series->count, series->count == 1 ? "" : "s", found->reference.name,
		    FINDINGS_SHOTS_MIN);
	if (code != 0 || *found->trouble)
		return code;
	const struct calibrate_span span = {.from = found->reference.to,
	    .known = found->reference.frozen,
	    .to = series->shots[series->count - 1].at};
	code = calibrate_since(session->settings, asked->line, session->ledger, &span,
	    found->calibrated_since, error);
	return code == 0 ? judge(found, session, asked->line, series, error) : code;
}

/* --- a span ------------------------------------------------------------------------------------ */

struct reading_span {
	struct series kinds[FOUND_KINDS];
	size_t count;
	bool more, failed;
};

static int
take_of_span(void *arg, const struct ledger_shot *shot)
{
	struct reading_span *reading = arg;
	const struct kind kind = kind_of(shot);
	size_t i = 0;

	if (shot->outcome != SHOT_COMPLETE)
		return 0;
	while (i < reading->count && !kind_same(&reading->kinds[i].kind, &kind))
		i++;
	if (i == FOUND_KINDS) {
		reading->more = true;
		return 0;
	}
	if (i == reading->count)
		reading->kinds[reading->count++].kind = kind;
	reading->failed = !series_add(
	    &reading->kinds[i], shot->shot_no, shot->filed_at, shot->lot, shot->value);
	return reading->failed;
}

int
found_read_span(struct found_all *all, const struct session *session,
    const struct found_asked *asked, struct error *error)
{
	const struct ledger_filter filter = {
	    .line = session->settings->lines[asked->line].name,
	    .from = asked->from,
	    .to = asked->to,
	    .by_time = true,
	};
	struct reading_span *reading = calloc(1, sizeof *reading);

	*all = (struct found_all){0};
	if (!reading)
		return out_of_memory(error);
	int code = ledger_read_shots(
	    session->ledger, &filter, false, take_of_span, reading, error);
	if (code == 0 && !reading->failed)
		all->list = calloc(reading->count + 1, sizeof *all->list);
	if (code == 0 && !all->list)
		code = out_of_memory(error);
	all->more = reading->more;
	for (size_t i = 0; all->list && i < reading->count && code == 0; i++)
		code = make_found(&all->list[all->count++], session, asked,
		    &reading->kinds[i], error);
	for (size_t i = 0; i < reading->count; i++)
		series_release(&reading->kinds[i]);
	free(reading);
	return code;
}

/* --- one shot ------------------------------------------------------------------------------------ */

struct reading_before {
	const struct ledger_shot *shot;
	struct series series; /* the newest first */
	size_t looked_at;
	bool failed;
};

static int
take_before(void *arg, const struct ledger_shot *shot)
{
	struct reading_before *reading = arg;
	const struct kind kind = kind_of(shot);

	if (++reading->looked_at > LOOKED_AT_MOST)
		return 1;
	/* by the time it is filed, another may stand before it */
	if (shot->outcome != SHOT_COMPLETE || shot->shot_no > reading->shot->shot_no ||
	    !kind_same(&kind, &reading->series.kind))
		return 0;
	reading->failed = !series_add(
	    &reading->series, shot->shot_no, shot->filed_at, shot->lot, shot->value);
	return reading->failed || reading->series.count == FOUND_BEFORE;
}

static int
read_before(
    struct reading_before *reading, const struct session *session, struct error *error)
{
	const struct ledger_shot *shot = reading->shot;
	const struct ledger_filter filter = {
	    .line = shot->line,
	    .to = {shot->filed_at.ns + 1},
	    .newest_first = true,
	};
	int code = ledger_read_shots(
	    session->ledger, &filter, false, take_before, reading, error);

	if (code == 0 && reading->failed)
		return out_of_memory(error);
	series_reverse(&reading->series);
	return code;
}

/* What shows at the last shot of those that were judged. */
static void
keep_lasting(struct found *found)
{
	size_t kept = 0;

	for (size_t i = 0; i < found->count; i++)
		if (found->list[i].lasting)
			found->list[kept++] = found->list[i];
	found->count = kept;
}

int
found_read_shot(struct found_all *all, const struct session *session,
    const struct found_asked *asked, const struct ledger_shot *shot,
    struct error *error)
{
	struct reading_before reading = {.shot = shot, .series.kind = kind_of(shot)};
	int code = 0;

	*all = (struct found_all){.list = calloc(1, sizeof *all->list)};
	if (!all->list)
		return out_of_memory(error);
	struct found *found = &all->list[all->count++];
	found->kind = reading.series.kind;
	if (shot->outcome != SHOT_COMPLETE) {
		snprintf(found->trouble, sizeof found->trouble,
		    "it was not heated and formed in the usual way: not held against a "
		    "reference run");
		return 0;
	}
	code = read_before(&reading, session, error);
	if (code == 0)
		code = make_found(found, session, asked, &reading.series, error);
	keep_lasting(found);
	series_release(&reading.series);
	return code;
}

void
found_release(struct found_all *all)
{
	free(all->list);
	*all = (struct found_all){0};
}
