/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/lacking.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/source/source.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* A sheet gets its number as it leaves and is filed by the time it was formed: mostly
 * minutes before, over a long week-end where it stood in a machine that was switched off. */
static const int64_t beside_ns[] = {
    3600 * CLOCK_SECOND_NS, 4 * 86400 * CLOCK_SECOND_NS};

/* After a copy was put back numbers go on behind a round one, at least so many further. */
enum { ROUND = 1000, LEAST_LEAP = 100 };

bool
lacking_add(struct lacking *missing, const struct ledger_shot *shot)
{
	if (missing->count == missing->room) {
		size_t room = missing->room ? missing->room * 2 : 64;
		struct lacking_have *have =
		    reallocarray(missing->have, room, sizeof *have);
		if (!have)
			return false;
		missing->have = have;
		missing->room = room;
	}
	missing->have[missing->count++] =
	    (struct lacking_have){shot->shot_no, shot->filed_at};
	return true;
}

void
lacking_release(struct lacking *missing)
{
	free(missing->have);
	free(missing->runs);
	*missing = (struct lacking){0};
}

/* --- the runs ---------------------------------------------------------------------- */

static int
compare(const void *a, const void *b)
{
	const struct lacking_have *x = a, *y = b;

	return (x->shot_no > y->shot_no) - (x->shot_no < y->shot_no);
}

static int
find_runs(struct lacking *missing, struct error *error)
{
	const struct lacking_have *have = missing->have;

	if (missing->count > 0)
		qsort(missing->have, missing->count, sizeof *have, compare);
	missing->run_count = 0;
	for (size_t i = 1; i < missing->count; i++) {
		if (have[i].shot_no - have[i - 1].shot_no < 2)
			continue;
		struct lacking_run *runs =
		    reallocarray(missing->runs, missing->run_count + 1, sizeof *runs);
		if (!runs)
			return error_set(error, ERROR_MEMORY, "out of memory");
		missing->runs = runs;
		runs[missing->run_count++] = (struct lacking_run){
		    .first = have[i - 1].shot_no + 1, .last = have[i].shot_no - 1};
	}
	return 0;
}

/* --- those beside the time ---------------------------------------------------------- */

struct beside {
	struct lacking *missing;
	int64_t first, last; /* a number beyond them makes no hole */
	bool failed;
};

static int
take_beside(void *arg, const struct ledger_shot *shot)
{
	struct beside *beside = arg;

	if (shot->shot_no > beside->first && shot->shot_no < beside->last)
		beside->failed |= !lacking_add(beside->missing, shot);
	return beside->failed;
}

static int
read_beside(struct beside *beside, struct source *source, const char *line,
    struct wall from, struct wall to, struct error *error)
{
	const struct ledger_filter filter = {
	    .line = line,
	    .from.ns = from.ns > 1 ? from.ns : 1,
	    .to = to,
	    .by_time = true,
	    .features = &(int){0}, /* none of them */
	};
	int code =
	    source_read_shots(source, &filter, false, take_beside, beside, error);

	return code == 0 && beside->failed
	           ? error_set(error, ERROR_MEMORY, "out of memory")
	           : code;
}

static int
look_beside(struct lacking *missing, struct source *source,
    const struct lacking_asked *asked, int64_t width_ns, struct error *error)
{
	struct beside beside = {missing, missing->have[0].shot_no,
	    missing->have[missing->count - 1].shot_no, false};
	const struct wall from = asked->from, to = asked->to;
	int code = 0;

	if (from.ns != 0)
		code = read_beside(&beside, source, asked->line,
		    (struct wall){from.ns - width_ns}, from, error);
	if (code == 0 && to.ns != 0)
		code = read_beside(&beside, source, asked->line, to,
		    (struct wall){to.ns + width_ns}, error);
	return code == 0 ? find_runs(missing, error) : code;
}

/* --- numbers that went on ------------------------------------------------------------ */

struct leap {
	int64_t next; /* the number behind the run */
	struct wall after, before;
	bool known;
};

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct leap *leap = arg;
	char words[64];

	if (strcmp(event->kind, "restored") != 0)
		return 0;
	if (*event->text) {
		snprintf(
		    words, sizeof words, "numbers go on from %" PRId64, leap->next);
		const char *at = strstr(event->text, words);
		leap->known |= at && at[strlen(words)] == '\0';
	} else { /* of a store without strings */
		leap->known |=
		    event->at.ns >= leap->after.ns && event->at.ns <= leap->before.ns;
	}
	return leap->known;
}

static bool
may_be_leap(const struct lacking_run *run)
{
	return run->last % ROUND == 0 && run->last - run->first + 1 >= LEAST_LEAP;
}

static int
find_leaps(struct lacking *missing, struct source *source, const char *line,
    struct error *error)
{
	size_t at = 0; /* of the shot behind the run */
	int code = 0;

	for (size_t i = 0; i < missing->run_count && code == 0; i++) {
		struct lacking_run *run = &missing->runs[i];
		if (!may_be_leap(run))
			continue;
		while (missing->have[at].shot_no <= run->last)
			at++;
		struct leap leap = {.next = run->last + 1,
		    .after = missing->have[at - 1].filed_at,
		    .before = missing->have[at].filed_at};
		const struct ledger_filter filter = {
		    .line = line, .from = leap.after, .by_time = true};
		code = source_read_events(source, &filter, take_event, &leap, error);
		run->renumbered = leap.known;
	}
	return code;
}

/* --- all ----------------------------------------------------------------------------- */

int
lacking_find(struct lacking *missing, struct source *source,
    const struct lacking_asked *asked, struct error *error)
{
	int code = find_runs(missing, error);

	if (code == 0 && missing->run_count > 0)
		code = find_leaps(missing, source, asked->line, error);
	for (size_t i = 0; i < sizeof beside_ns / sizeof beside_ns[0]; i++)
		if (code == 0 && lacking_count(missing) > 0) {
			code = look_beside(missing, source, asked, beside_ns[i], error);
			if (code == 0)
				code = find_leaps(missing, source, asked->line, error);
		}
	return code;
}

void
lacking_text(const struct lacking *missing, size_t most, struct text *text)
{
	size_t told = 0, more = 0;

	for (size_t i = 0; i < missing->run_count; i++) {
		const struct lacking_run *run = &missing->runs[i];
		if (run->renumbered)
			continue;
		if (told == most) {
			more++;
			continue;
		}
		text_printf(text, "%s%" PRId64, told++ > 0 ? ", " : "", run->first);
		if (run->last > run->first)
			text_printf(text, "-%" PRId64, run->last);
	}
	if (more > 0)
		text_printf(
		    text, " and at %zu more place%s", more, more == 1 ? "" : "s");
}

int64_t
lacking_count(const struct lacking *missing)
{
	int64_t count = 0;

	for (size_t i = 0; i < missing->run_count; i++)
		if (!missing->runs[i].renumbered)
			count += missing->runs[i].last - missing->runs[i].first + 1;
	return count;
}

const char *
lacking_where(const struct source *source)
{
	return source_ledger(source) ? "this ledger" : source_name(source);
}
