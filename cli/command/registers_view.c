/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/registers_view.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/registers_ask.h"
#include "cli/command/registers_survey.h"
#include "cli/page/page.h"
#include "conf/register.h"
#include "conf/words.h"
#include "daemon/base/text.h"

enum { MACHINE_LEAD = 7, MACHINE_TAIL = 7, WHERE = 400 };

/* --- a row a register, for machines ------------------------------------------------------ */

static const char *const state_words[] = {
    [SURVEY_OPEN] = "not_asked",
    [SURVEY_THERE] = "there",
    [SURVEY_REFUSED] = "refused",
    [SURVEY_FAILED] = "device_failure",
    [SURVEY_SILENT] = "no_answer",
    [SURVEY_BARRED] = "hole_of_set_up",
};

static bool
is_there(const struct survey *survey, uint32_t at, uint32_t count)
{
	for (uint32_t i = at; i < at + count; i++)
		if (i >= survey->count || survey->registers[i].state != SURVEY_THERE)
			return false;
	return true;
}

static void
words_at(const struct survey *survey, uint32_t at, uint16_t words[static 2])
{
	words[0] = survey->registers[at].word;
	words[1] = at + 1 < survey->count ? survey->registers[at + 1].word : 0;
}

/* "tenths float32_cdab". */
static void
add_likely(const struct registers_ask *ask, const struct survey *survey, uint32_t at,
    struct text *text)
{
	uint16_t words[2];

	words_at(survey, at, words);
	for (int i = 0; i < FORM_COUNT; i++) {
		enum registers_form form = (enum registers_form)i;
		if (is_there(survey, at, (uint32_t)registers_form_width(form)) &&
		    registers_is_likely(&ask->expect, form, words))
			text_printf(text, "%s%s", text->length ? " " : "",
			    registers_forms[form].key);
	}
}

/* The channels of the set-up that are read from there. */
void
registers_view_channels(
    const struct registers_ask *ask, unsigned address, struct text *text)
{
	const struct device_settings *device = &ask->device;

	for (uint32_t i = 0;
	     ask->settings && ask->configured >= 0 && i < device->channel_count; i++) {
		const struct channel_settings *channel =
		    &ask->settings->channels[device->first_channel + i];
		if (channel->table == ask->table && address >= channel->address &&
		    address < channel->address + register_width(channel->encoding))
			text_printf(
			    text, "%s%s", text->length ? " " : "", channel->name);
	}
}

static struct cell
text_cell(const struct text *text)
{
	return cell_words(text->length ? text->bytes : NULL);
}

static void
put_machine_row(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, uint32_t at)
{
	const struct survey_register *one = &survey->registers[at];
	char document[REGISTERS_DOCUMENT], hex[8], bits[REGISTERS_TEXT];
	struct cell cells[MACHINE_LEAD + FORM_PLAIN_COUNT + MACHINE_TAIL];
	bool there = one->state == SURVEY_THERE, bit = register_is_bit(ask->table);
	struct text likely, channels;
	uint16_t words[2];
	size_t n = 0;

	text_init(&likely, 1024);
	text_init(&channels, 4096);
	registers_document(ask->table, survey->first + at, document);
	words_at(survey, at, words);
	snprintf(hex, sizeof hex, "%04X", words[0]);
	registers_bits_text(words[0], bits);
	if (!bit)
		add_likely(ask, survey, at, &likely);
	registers_view_channels(ask, survey->first + at, &channels);
	cells[n++] = cell_count(survey->first + at);
	cells[n++] = cell_count(survey->first + at + 1);
	cells[n++] = cell_words(document);
	cells[n++] = cell_words(state_words[one->state]);
	cells[n++] = there && bit ? cell_truth(words[0]) : cell_absent(NULL);
	cells[n++] = there && !bit ? cell_words(hex) : cell_absent(NULL);
	cells[n++] = there && !bit ? cell_words(bits) : cell_absent(NULL);
	for (int i = 0; i < FORM_PLAIN_COUNT; i++) {
		enum registers_form form = (enum registers_form)i;
		bool known =
		    !bit && is_there(survey, at, (uint32_t)registers_form_width(form));
		cells[n++] = known ? cell_number(registers_decode(form, words), 0)
		                   : cell_absent(NULL);
	}
	cells[n++] = text_cell(&likely);
	cells[n++] = there && !bit && *registers_oddity(words[0])
	                 ? cell_words(registers_oddity(words[0]))
	                 : cell_absent(NULL);
	cells[n++] = there ? cell_count(survey->readings) : cell_absent(NULL);
	cells[n++] = there ? cell_count(one->changes) : cell_absent(NULL);
	cells[n++] = there && !bit ? cell_count(one->lowest) : cell_absent(NULL);
	cells[n++] = there && !bit ? cell_count(one->highest) : cell_absent(NULL);
	cells[n++] = text_cell(&channels);
	page_row(page, cells);
	text_release(&likely);
	text_release(&channels);
}

static void
put_machine_table(
    struct page *page, const struct registers_ask *ask, const struct survey *survey)
{
	static const char *const lead[MACHINE_LEAD] = {
	    "address", "address_from_1", "document", "state", "bit", "hex", "bits"};
	static const char *const tail[MACHINE_TAIL] = {"likely", "remark", "readings",
	    "changes", "int16_least", "int16_most", "channel"};
	struct column columns[MACHINE_LEAD + FORM_PLAIN_COUNT + MACHINE_TAIL] = {0};
	size_t n = 0;

	for (int i = 0; i < MACHINE_LEAD; i++)
		columns[n++].key = lead[i];
	for (int i = 0; i < FORM_PLAIN_COUNT; i++)
		columns[n++].key = registers_forms[i].key;
	for (int i = 0; i < MACHINE_TAIL; i++)
		columns[n++].key = tail[i];
	page_table(page, "registers", NULL, columns, n);
	for (uint32_t at = 0; at < survey->count; at++)
		put_machine_row(page, ask, survey, at);
	page_table_end(page);
}

/* --- sentences -------------------------------------------------------------------------- */

void
registers_view_hole(const struct survey *survey, unsigned at, unsigned count,
    char text[static REGISTERS_HOLE])
{
	bool bit = register_is_bit(survey->table);
	const char *what = "";
	char span[32];

	snprintf(span, sizeof span, count > 1 ? "%u..%u" : "%u", survey->first + at,
	    survey->first + at + count - 1);
	switch (survey->registers[at].state) {
	case SURVEY_THERE:
		break;
	case SURVEY_OPEN:
		what = "not asked for";
		break;
	case SURVEY_REFUSED:
		what = bit         ? "no such bits, the device says"
		       : count > 1 ? "no such registers, the device says"
		                   : "no such register, the device says";
		break;
	case SURVEY_FAILED:
		what = "a failure, the device says";
		break;
	case SURVEY_SILENT:
		what = "no answer";
		break;
	case SURVEY_BARRED:
		what = "a hole in the set-up: not asked for";
		break;
	}
	snprintf(text, REGISTERS_HOLE, "%s: %s", span, what);
}

static void
put_parted(
    struct page *page, const struct registers_ask *ask, const struct survey *survey)
{
	const struct read_block *whole = &survey->refused_whole;

	if (survey->parted)
		page_note(page, "parted", TONE_PLAIN,
		    "%s %u..%u was refused at once, but answered in halves: either the "
		    "device gives less in one answer (then max_registers = %" PRIu32
		    ") or these do not stand side by side in it",
		    words_table.list[ask->table], whole->first,
		    whole->first + whole->count - 1U, survey->part);
}

/* "100, 102..105". */
static void
add_moved(const struct survey *survey, struct text *text)
{
	for (uint32_t at = 0; at < survey->count;) {
		uint32_t end = at;
		while (end < survey->count && survey->registers[end].changes > 0)
			end++;
		if (end > at)
			text_printf(text, end - at > 1 ? "%s%u..%u" : "%s%u",
			    text->length ? ", " : "", (unsigned)(survey->first + at),
			    (unsigned)(survey->first + end - 1));
		at = end > at ? end : at + 1;
	}
}

static void
put_moved(struct page *page, const struct survey *survey)
{
	struct text text;

	if (survey->readings < 2)
		return;
	text_init(&text, 1 << 16);
	add_moved(survey, &text);
	if (text.length)
		page_note(page, "moved", TONE_STRONG,
		    "moved in %" PRIu32 " readings: %s", survey->readings, text.bytes);
	else
		page_note(page, "moved", TONE_STRONG,
		    "nothing moved in %" PRIu32 " readings", survey->readings);
	text_release(&text);
}

/* "plc, unit 1 at 10.0.0.5:502, holding 0..19 (function 3)". */
static void
where_text(const struct registers_ask *ask, const struct survey *survey,
    char where[static WHERE])
{
	bool configured = ask->configured >= 0;

	snprintf(where, WHERE, "%s%sunit %d at %s, %s %u..%u (function %u)",
	    configured ? ask->device.name : "", configured ? ", " : "",
	    ask->device.unit_id, ask->bus.name, words_table.list[ask->table],
	    survey->first, survey->first + survey->count - 1,
	    register_function(ask->table));
}

/* In place of tables and legends. */
static void
put_nothing(
    struct page *page, const struct registers_ask *ask, const struct survey *survey)
{
	char where[WHERE];

	where_text(ask, survey, where);
	if (survey->requests > 0)
		page_note(page, "nothing", TONE_BAD,
		    "%s: none of them is there: %s; look at another --table, or other "
		    "addresses",
		    where, survey->why);
	else
		page_note(page, "nothing", TONE_BAD,
		    "%s: the set-up calls them all holes: not asked for", where);
}

static void
put_head(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, double slowest_s)
{
	char where[WHERE];
	uint32_t there = 0;

	for (uint32_t i = 0; i < survey->count; i++)
		there += survey->registers[i].state == SURVEY_THERE;
	page_field(page, "device", NULL,
	    cell_words(ask->configured >= 0 ? ask->device.name : NULL));
	page_field(page, "bus", NULL, cell_words(ask->bus.name));
	page_field(page, "unit_id", NULL, cell_count(ask->device.unit_id));
	page_field(page, "table", NULL, cell_words(words_table.list[ask->table]));
	page_field(page, "function", NULL, cell_count(register_function(ask->table)));
	page_field(page, "first", NULL, cell_count(survey->first));
	page_field(page, "count", NULL, cell_count(survey->count));
	page_field(page, "there", NULL, cell_count(there));
	page_field(page, "requests", NULL, cell_count(survey->requests));
	page_field(page, "readings", NULL, cell_count(survey->readings));
	page_field(page, "slowest_s", NULL, cell_number(slowest_s, 3));
	where_text(ask, survey, where);
	if (there > 0)
		page_note(page, NULL, TONE_STRONG,
		    "%s: %" PRIu32 " of %" PRIu32 " there; %" PRIu32
		    " request%s, the slowest took %.1f ms",
		    where, there, survey->count, survey->requests,
		    survey->requests == 1 ? "" : "s", slowest_s * 1000);
	/* 40001 typed as an address of the wire: the commonest slip there is */
	if (!ask->documented && ask->table == TABLE_HOLDING && survey->first >= 40000 &&
	    survey->first < 50000)
		page_note(page, "slip", TONE_BAD,
		    "is %u a number of the document? Then it is --document %u: on the "
		    "wire that is address %u",
		    survey->first, survey->first, survey->first - 40001U);
}

static void
put_unfinished(struct page *page, const struct survey *survey)
{
	for (uint32_t at = 0; at < survey->count; at++)
		if (survey->registers[at].state == SURVEY_OPEN) {
			page_note(page, "unfinished", TONE_BAD,
			    "not asked for from %u on, after %" PRIu32
			    " requests: go on with --first %u",
			    (unsigned)(survey->first + at), survey->requests,
			    (unsigned)(survey->first + at));
			return;
		}
}

void
registers_view_put(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, double slowest_s)
{
	char rule[REGISTERS_RULE];

	put_head(page, ask, survey, slowest_s);
	put_machine_table(page, ask, survey);
	if (survey->block_count == 0) {
		put_nothing(page, ask, survey);
		put_unfinished(page, survey);
		return;
	}
	if (register_is_bit(ask->table))
		registers_view_put_bits(page, ask, survey);
	else if (ask->single)
		registers_view_put_one(page, ask, survey);
	else
		registers_view_put_words(page, ask, survey);
	put_parted(page, ask, survey);
	put_unfinished(page, survey);
	put_moved(page, survey);
	if (register_is_bit(ask->table))
		return;
	registers_rule_text(&ask->expect, rule);
	page_note(page, "rule", TONE_FAINT, "%s", rule);
	if (!ask->single)
		page_note(page, NULL, TONE_FAINT,
		    "for the lines of a channel look at its register alone: --first %u "
		    "--count 1",
		    survey->first);
}
