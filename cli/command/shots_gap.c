/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shots_gap.h"

#include <stdlib.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/source/source.h"
#include "daemon/base/error.h"

/* A logger that ended or began. */
struct turn {
	struct wall at;
	bool begins;
	char line[LEDGER_NAME];
};

struct turns {
	struct turn *list; /* by time */
	size_t count, room;
	bool failed;
};

/* A line as far as its shots were gone through. */
struct walk {
	const struct ledger_shot *last; /* NULL: none yet */
	struct wall newest;             /* of them: times may run backwards */
	int64_t counter;                /* the last one known; -1: none */
	int64_t since;                  /* shots after the one that had it */
	bool troubled;                  /* that one, or one of these */
	size_t open;                    /* the gap since then, from 1; 0: none */
	size_t turn;                    /* the first that is not passed */
};

/* --- when the logger ended and began --------------------------------------------------- */

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct turns *turns = arg;
	bool begins = strcmp(event->kind, "start") == 0;

	if (!begins && strcmp(event->kind, "end") != 0)
		return 0;
	if (turns->count == turns->room) {
		size_t room = turns->room ? turns->room * 2 : 16;
		struct turn *list = reallocarray(turns->list, room, sizeof *list);
		if (!list) {
			turns->failed = true;
			return 1;
		}
		turns->list = list;
		turns->room = room;
	}
	struct turn *turn = &turns->list[turns->count++];
	*turn = (struct turn){.at = event->at, .begins = begins};
	memcpy(turn->line, event->line, sizeof turn->line);
	return 0;
}

static int
read_turns(struct turns *turns, struct source *source, struct wall from, struct wall to,
    struct error *error)
{
	const struct ledger_filter filter = {.from = from, .to = to, .by_time = true};
	int code = source_read_events(source, &filter, take_event, turns, error);

	if (code == 0 && turns->failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	return code;
}

/* --- between two shots -------------------------------------------------------------------- */

/* Passes what the logger did until the time of `shot`; whether it ended or began since the
 * shot before, and then from when to when it was gone. */
static bool
pass_turns(struct walk *walk, const struct turns *turns, const struct ledger_shot *shot,
    struct shots_gap *gap)
{
	bool ended = false, turned = false;

	for (; walk->turn < turns->count &&
	       turns->list[walk->turn].at.ns <= shot->filed_at.ns;
	     walk->turn++) {
		const struct turn *turn = &turns->list[walk->turn];
		if (!walk->last || turn->at.ns < walk->newest.ns ||
		    strcmp(turn->line, shot->line) != 0)
			continue;
		turned = true;
		if (turn->begins)
			gap->to = turn->at;
		else if (!ended)
			gap->from = turn->at;
		ended |= !turn->begins;
	}
	return turned;
}

/* Only beside a row that tells of trouble: a sheet that is heated again goes round without
 * a row of its own. */
static bool
is_troubled(const struct ledger_shot *shot)
{
	return shot->outcome == SHOT_PARTIAL ||
	       (shot->flags & (SHOT_FLAG_GAP | SHOT_FLAG_LOGGER_START |
				  SHOT_FLAG_COUNT_JUMP | SHOT_FLAG_DOUBLE_INDEX)) != 0;
}

/* Cycles between this shot and the last one with a count that no shot is of.  Two sides
 * count in another order than that of their numbers. */
static int64_t
count_cycles(const struct walk *walk, const struct ledger_shot *shot)
{
	int64_t missed = shot->cycle_count - walk->counter - walk->since - 1;

	return walk->counter >= 0 && shot->cycle_count >= 0 && !*shot->side &&
	               missed > 0 && (walk->troubled || walk->open || is_troubled(shot))
	           ? missed
	           : 0;
}

static void
step(struct walk *walk, struct shots_gaps *gaps, const struct turns *turns,
    const struct ledger_shot *shots, size_t i)
{
	const struct ledger_shot *shot = &shots[i];
	struct shots_gap gap = {
	    .before = i, .from = walk->newest, .to = shot->filed_at};
	bool turned = pass_turns(walk, turns, shot, &gap);
	int64_t cycles;

	if (turned)
		walk->open = gaps->count + 1;
	cycles = count_cycles(walk, shot);
	if (turned || (cycles > 0 && !walk->open)) {
		gap.after_no = walk->last->shot_no;
		gap.to.ns = gap.to.ns < gap.from.ns ? gap.from.ns : gap.to.ns;
		gaps->list[gaps->count++] = gap;
	}
	if (cycles > 0)
		gaps->list[walk->open ? walk->open - 1 : gaps->count - 1].cycles =
		    cycles;

	bool counted = shot->cycle_count >= 0;
	walk->last = shot;
	walk->newest.ns =
	    shot->filed_at.ns > walk->newest.ns ? shot->filed_at.ns : walk->newest.ns;
	walk->troubled = is_troubled(shot) || (!counted && walk->troubled);
	walk->since = counted ? 0 : walk->since + 1;
	walk->open = counted ? 0 : walk->open;
	walk->counter = counted ? shot->cycle_count : walk->counter;
}

struct walks {
	struct walk *list;
	size_t count;
};

/* NULL when memory is short. */
static struct walk *
find_walk(struct walks *walks, const char *line)
{
	for (size_t i = 0; i < walks->count; i++)
		if (strcmp(walks->list[i].last->line, line) == 0)
			return &walks->list[i];
	struct walk *list =
	    reallocarray(walks->list, walks->count + 1, sizeof *walks->list);
	if (!list)
		return NULL;
	walks->list = list;
	list[walks->count] = (struct walk){.counter = -1};
	return &list[walks->count++];
}

static int
go_through(struct shots_gaps *gaps, const struct turns *turns,
    const struct ledger_shot *shots, size_t count, struct error *error)
{
	struct walks walks = {0};
	int code = 0;

	for (size_t i = count; i-- > 0 && code == 0;) {
		struct walk *walk = find_walk(&walks, shots[i].line);
		if (walk)
			step(walk, gaps, turns, shots, i);
		else
			code = error_set(error, ERROR_MEMORY, "out of memory");
	}
	free(walks.list);
	return code;
}

int
shots_gaps_find(struct shots_gaps *gaps, struct source *source,
    const struct ledger_shot *shots, size_t count, struct error *error)
{
	struct turns turns = {0};
	struct wall from = {INT64_MAX}, to = {0};

	*gaps = (struct shots_gaps){.list = calloc(count + 1, sizeof *gaps->list)};
	if (!gaps->list)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < count; i++) {
		from = shots[i].filed_at.ns < from.ns ? shots[i].filed_at : from;
		if (shots[i].filed_at.ns >= to.ns)
			to.ns = shots[i].filed_at.ns + 1;
	}
	int code = count > 0 ? read_turns(&turns, source, from, to, error) : 0;
	if (code == 0)
		code = go_through(gaps, &turns, shots, count, error);
	free(turns.list);
	return code;
}

/* --- telling --------------------------------------------------------------------------- */

void
shots_gap_words(
    const struct shots_gap *gap, const char *line, char words[static SHOTS_GAP_TEXT])
{
	char from[CALENDAR_TEXT], to[CALENDAR_TEXT], cycles[64] = "";

	shown_clock(gap->from, gap->to, from);
	shown_clock(gap->to, gap->to, to);
	if (gap->cycles > 0)
		snprintf(cycles, sizeof cycles,
		    "; %lld cycle%s by the machine's counter", (long long)gap->cycles,
		    gap->cycles == 1 ? "" : "s");
	snprintf(words, SHOTS_GAP_TEXT, "-- %s%snot logged %s to %s%s --", line,
	    *line ? ": " : "", from, to, cycles);
}

void
shots_gaps_put(
    struct page *page, const struct ledger_shot *shots, const struct shots_gaps *gaps)
{
	static const struct column columns[] = {
	    {"line", NULL, 0},
	    {"after_shot_no", NULL, 0},
	    {"before_shot_no", NULL, 0},
	    {"from", NULL, 0},
	    {"to", NULL, 0},
	    {"cycles", NULL, 0},
	};

	page_table(page, "gaps", NULL, columns, sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < gaps->count; i++) {
		const struct shots_gap *gap = &gaps->list[i];
		const struct ledger_shot *shot = &shots[gap->before];
		const struct cell cells[] = {
		    cell_words(shot->line),
		    cell_count(gap->after_no),
		    cell_count(shot->shot_no),
		    cell_time(gap->from),
		    cell_time(gap->to),
		    gap->cycles > 0 ? cell_count(gap->cycles) : cell_absent(NULL),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}
