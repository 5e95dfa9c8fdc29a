/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/hold_read.h"

#include <stdlib.h>
#include <string.h>

#include "cli/population/population.h"
#include "cli/source/source.h"
#include "daemon/base/error.h"

struct reading {
	struct hold_read *read;
	bool failed;
};

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct reading *reading = arg;
	struct hold_read *read = reading->read;

	if (read->count == read->room) {
		size_t room = read->room ? 2 * read->room : 256;
		struct ledger_shot *shots =
		    room <= 2 * HOLD_MOST
			? reallocarray(read->shots, room, sizeof *shots)
			: NULL;
		if (!shots) {
			reading->failed = true;
			return 1;
		}
		read->shots = shots;
		read->room = room;
	}
	read->shots[read->count++] = *shot;
	return 0;
}

static int
read_some(struct hold_read *read, struct source *source,
    const struct ledger_filter *filter, struct error *error)
{
	struct reading reading = {.read = read};
	int code = source_read_shots(source, filter, true, take_shot, &reading, error);

	if (code == 0 && (reading.failed || read->count > HOLD_MOST))
		return error_set(error, ERROR_MEMORY,
		    "more than %d shots at once: say a shorter time", HOLD_MOST);
	return code;
}

static int
read_all(struct hold_read *read, struct source *source, const struct hold_asked *asked,
    struct error *error)
{
	struct ledger_filter filter = {.line = asked->line,
	    .from = asked->from,
	    .to = asked->to,
	    .by_time = true,
	    .features = asked->features->list,
	    .feature_count = asked->features->count};
	int code = read_some(read, source, &filter, error);

	read->none = read->count == 0;
	if (code == 0 && !read->none && asked->from.ns != 0) {
		filter.from.ns = 0;
		filter.to = asked->from;
		filter.by_time = false;
		filter.newest_first = true;
		filter.limit = asked->back;
		size_t before = read->count;
		code = read_some(read, source, &filter, error);
		read->back = read->count - before;
		read->more = read->back == asked->back;
	}
	if (code == 0 && !read->none && asked->to.ns != 0) {
		filter.from = asked->to;
		filter.to.ns = 0;
		filter.by_time = true;
		filter.newest_first = false;
		filter.limit = HOLD_BESIDE;
		code = read_some(read, source, &filter, error);
	}
	return code;
}

/* --- in order ---------------------------------------------------------------------------- */

static int
newest_first(const void *a, const void *b)
{
	const struct ledger_shot *x = a, *y = b;

	if (x->filed_at.ns != y->filed_at.ns)
		return x->filed_at.ns < y->filed_at.ns ? 1 : -1;
	return (x->shot_no < y->shot_no) - (x->shot_no > y->shot_no);
}

static int
by_number(const void *a, const void *b)
{
	const struct ledger_shot *x = a, *y = b;

	return (x->shot_no > y->shot_no) - (x->shot_no < y->shot_no);
}

static size_t
place_of(const struct hold_read *read, int64_t shot_no)
{
	size_t i = 0;

	while (i + 1 < read->count && read->shots[i].shot_no < shot_no)
		i++;
	return i;
}

static bool
is_asked(const struct hold_asked *asked, const struct ledger_shot *shot)
{
	return shot->filed_at.ns >= asked->from.ns &&
	       (asked->to.ns == 0 || shot->filed_at.ns < asked->to.ns);
}

/* Gaps are found in the order of time, all else in that of numbers. */
static int
find_gaps(struct hold_read *read, struct source *source, struct error *error)
{
	qsort(read->shots, read->count, sizeof *read->shots, newest_first);
	int code =
	    shots_gaps_find(&read->gaps, source, read->shots, read->count, error);
	if (code != 0)
		return code;
	int64_t *behind = calloc(read->gaps.count + 1, sizeof *behind);
	if (!behind)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < read->gaps.count; i++)
		behind[i] = read->shots[read->gaps.list[i].before].shot_no;
	qsort(read->shots, read->count, sizeof *read->shots, by_number);
	for (size_t i = 0; i < read->gaps.count; i++)
		read->gaps.list[i].before = place_of(read, behind[i]);
	free(behind);
	return 0;
}

static int
find_lacking(struct hold_read *read, struct source *source,
    const struct hold_asked *asked, struct error *error)
{
	struct lacking_asked lacking = {.line = asked->line, .from = {INT64_MAX}};

	for (size_t i = 0; i < read->count; i++) {
		struct wall at = read->shots[i].filed_at;
		if (!lacking_add(&read->lacking, &read->shots[i]))
			return error_set(error, ERROR_MEMORY, "out of memory");
		lacking.from = at.ns < lacking.from.ns ? at : lacking.from;
		lacking.to.ns = at.ns >= lacking.to.ns ? at.ns + 1 : lacking.to.ns;
	}
	return lacking_find(&read->lacking, source, &lacking, error);
}

int
hold_read(struct hold_read *read, struct source *source, const struct hold_asked *asked,
    struct error *error)
{
	*read = (struct hold_read){0};
	int code = read_all(read, source, asked, error);

	if (code != 0 || read->none)
		return code;
	code = find_gaps(read, source, error);
	read->first = read->count;
	for (size_t i = 0; i < read->count; i++)
		if (is_asked(asked, &read->shots[i])) {
			read->first = i < read->first ? i : read->first;
			read->last = i;
		}
	return code == 0 ? find_lacking(read, source, asked, error) : code;
}

void
hold_read_release(struct hold_read *read)
{
	free(read->shots);
	free(read->gaps.list);
	lacking_release(&read->lacking);
	*read = (struct hold_read){0};
}
