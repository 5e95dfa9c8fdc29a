/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/registers_units.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/progress.h"
#include "cli/command/registers_ask.h"
#include "cli/command/registers_bus.h"
#include "cli/wording/shown.h"
#include "cli/page/page.h"
#include "conf/register.h"
#include "conf/schema.h"
#include "conf/value.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { UNITS = 256, WHY = 160 };

/* A silent unit of a serial line costs its time-out and as long of listening. */
enum { SERIAL_TIMEOUTS = 2 };

struct asked_unit {
	int id;
	enum answer answer;
	uint16_t word;
	double took_s;
	char why[WHY]; /* "" when good */
};

bool
registers_units_is_range(const char *text)
{
	return text && strstr(text, "..");
}

enum command_exit
registers_units_parse(const struct call *call, const char *text, int *first, int *last)
{
	const struct setting *setting = schema_find(SECTION_DEVICE, "unit_id");
	const char *dots = strstr(text, "..");
	struct error error;
	char from[16];

	snprintf(from, sizeof from, "%.*s", (int)(dots - text), text);
	if (value_read(setting, from, first, &error) != 0 ||
	    value_read(setting, dots + 2, last, &error) != 0)
		return command_usage(call, "'--unit' is '%s': %s", text, error.text);
	if (*first >= *last)
		return command_usage(call,
		    "'--unit' is '%s', must be a range that goes up, such as 1..32",
		    text);
	return COMMAND_DONE;
}

/* --- asking ------------------------------------------------------------------------------ */

/* It is there: it said something of its own. */
static bool
is_answer(enum answer answer)
{
	switch (answer) {
	case ANSWER_GOOD:
	case ANSWER_ILLEGAL:
	case ANSWER_BUSY:
	case ANSWER_FAULT:
		return true;
	case ANSWER_GATEWAY:
	case ANSWER_NONE:
	case ANSWER_WRONG:
	case ANSWER_LOST:
	case ANSWER_COUNT:
		break;
	}
	return false;
}

/* Asks one after another; how many of `units` were, and whether the bus is still there. */
static bool
ask_all(struct registers_ask *ask, struct registers_bus *bus, struct progress *progress,
    struct asked_unit *units, size_t *count, struct error *error)
{
	const struct read_block block = {
	    .table = ask->table, .first = ask->first, .count = 1};
	int first = ask->device.unit_id, last = ask->unit_last, there = 0;

	for (int id = first; id <= last; id++) {
		struct asked_unit *unit = &units[*count];
		*unit = (struct asked_unit){.id = id};
		progress_tell(progress, "asked %d of %d units, %d answer ...",
		    id - first, last - first + 1, there);
		ask->device.unit_id = id;
		/* what comes late of one unit is none of the next one's */
		bus->quiet = limit_from_now(id > first ? ask->device.gap_s : 0);
		unit->answer = registers_bus_read(bus, &block, &unit->word, error);
		unit->took_s = bus->took_s;
		if (!bus->opened) {
			registers_bus_advise(bus, unit->answer, error);
			return false;
		}
		if (unit->answer != ANSWER_GOOD)
			text_copy(unit->why, WHY, error->text);
		there += is_answer(unit->answer);
		++*count;
	}
	return true;
}

/* --- showing ----------------------------------------------------------------------------- */

static const char *
state_word(enum answer answer)
{
	switch (answer) {
	case ANSWER_GOOD:
		return "answers";
	case ANSWER_ILLEGAL:
	case ANSWER_BUSY:
	case ANSWER_FAULT:
		return "exception";
	case ANSWER_GATEWAY:
		return "not_reached";
	case ANSWER_NONE:
		return "silent";
	case ANSWER_WRONG:
	case ANSWER_LOST:
	case ANSWER_COUNT:
		break;
	}
	return "no_answer";
}

static void
put_row(struct page *page, const struct asked_unit *unit)
{
	char plain[32], hex[8];
	bool good = unit->answer == ANSWER_GOOD;

	shown_words(state_word(unit->answer), plain, sizeof plain);
	snprintf(hex, sizeof hex, "%04X", unit->word);
	struct cell shown = cell_words(plain);
	shown.tone = good ? TONE_GOOD : TONE_PLAIN;
	const struct cell cells[] = {
	    cell_count(unit->id),
	    cell_words(state_word(unit->answer)),
	    shown,
	    good ? cell_words(hex) : cell_absent(NULL),
	    is_answer(unit->answer) ? cell_shown(unit->took_s, unit->took_s * 1000, 1)
				    : cell_absent(NULL),
	    good ? cell_absent("") : cell_words(unit->why),
	};
	page_row(page, cells);
}

/* People see those that said something of their own. */
static void
put_rows(struct page *page, const struct asked_unit *units, size_t count)
{
	static const struct column machines[] = {
	    {"unit_id", NULL, 0},
	    {"state", NULL, 0},
	    {NULL, NULL, 0},
	    {"hex", NULL, 0},
	    {"took_s", NULL, 0},
	    {"why", NULL, 0},
	};
	static const struct column people[] = {
	    {NULL, "unit", 0},
	    {NULL, NULL, 0},
	    {NULL, "state", 0},
	    {NULL, "hex", 0},
	    {NULL, "took ms", 0},
	    {NULL, "", 0},
	};

	page_table(page, "units", NULL, machines, COUNT(machines));
	for (size_t i = 0; i < count; i++)
		put_row(page, &units[i]);
	page_table_end(page);
	page_table(page, NULL, "Units that answer", people, COUNT(people));
	for (size_t i = 0; i < count; i++)
		if (is_answer(units[i].answer))
			put_row(page, &units[i]);
	page_table_end(page);
}

/* "silent: 1..4, 6"; nothing where none is. */
static void
put_others(
    struct page *page, const struct asked_unit *units, size_t count, const char *state)
{
	struct text text;
	char plain[32];

	text_init(&text, 4096);
	for (size_t i = 0; i < count; i++) {
		size_t end = i;
		while (end < count && strcmp(state_word(units[end].answer), state) == 0)
			end++;
		if (end == i)
			continue;
		text_printf(&text, end - i > 1 ? "%s%d..%d" : "%s%d",
		    text.length ? ", " : "", units[i].id, units[end - 1].id);
		i = end;
	}
	shown_words(state, plain, sizeof plain);
	if (text.length)
		page_note(page, NULL, TONE_PLAIN, "%s: %s", plain, text.bytes);
	text_release(&text);
}

static enum command_exit
show(const struct call *call, const struct registers_ask *ask,
    const struct asked_unit *units, size_t count)
{
	struct page *page = command_page_of(call, "units");
	int there = 0;

	if (!page)
		return COMMAND_CANNOT;
	for (size_t i = 0; i < count; i++)
		there += is_answer(units[i].answer);
	page_field(page, "bus", NULL, cell_words(ask->bus.name));
	page_field(page, "table", NULL, cell_words(words_table.list[ask->table]));
	page_field(page, "first", NULL, cell_count(ask->first));
	page_field(page, "there", NULL, cell_count(there));
	page_note(page, NULL, there > 0 ? TONE_STRONG : TONE_BAD,
	    "units %d..%d at %s, asked for %s %u once: %d of %zu answer", units[0].id,
	    units[count - 1].id, ask->bus.name, words_table.list[ask->table],
	    ask->first, there, count);
	put_rows(page, units, count);
	put_others(page, units, count, "silent");
	put_others(page, units, count, "not_reached");
	put_others(page, units, count, "no_answer");
	if (there == (int)count && ask->bus.kind == BUS_TCP)
		page_note(page, NULL, TONE_FAINT,
		    "where every unit answers, the device does not look at the unit "
		    "id: take 1");
	return command_end_page(call, page, there > 0 ? COMMAND_DONE : COMMAND_NO);
}

enum command_exit
registers_units_run(
    const struct call *call, struct registers_ask *ask, struct registers_bus *bus)
{
	int first = ask->device.unit_id, last = ask->unit_last;
	bool serial = ask->bus.kind == BUS_SERIAL;
	double each_s = ask->device.timeout_s * (serial ? SERIAL_TIMEOUTS : 1);
	struct asked_unit units[UNITS] = {0};
	struct error error;
	size_t count = 0;

	fprintf(call->err,
	    "asking units %d..%d once each: %.3g s for every silent one, so up to %.0f "
	    "s; less with a shorter --timeout-ms\n",
	    first, last, each_s, ceil(each_s * (last - first + 1)));
	struct progress *progress = progress_start(call->err, PROGRESS_AFTER_S);
	bool there = ask_all(ask, bus, progress, units, &count, &error);
	progress_end(progress);
	if (there)
		return show(call, ask, units, count);
	error_prefix(
	    &error, ERROR_IO, "unit %d at %s", ask->device.unit_id, ask->bus.name);
	return command_cannot(call, &error);
}
