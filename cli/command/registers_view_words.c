/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What registers can mean, for people: one by one, and each with the next one. */
#include "cli/command/registers_view.h"

#include <stdio.h>
#include <string.h>

#include "cli/command/registers_ask.h"
#include "cli/command/registers_survey.h"
#include "cli/page/page.h"
#include "conf/words.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { MARKED = REGISTERS_TEXT + 1, ORDERS = 4, CHANNELS = 512 };

/* A value with its mark, right-aligned; `text` must live until the row is written. */
static struct cell
form_cell(const struct registers_ask *ask, enum registers_form form,
    const uint16_t *words, char text[static MARKED])
{
	bool likely = registers_is_likely(&ask->expect, form, words);
	struct cell cell = cell_number(0, 0);

	text[0] = '*';
	registers_form_text(form, words, text + 1);
	cell.instead = likely ? text : text + 1;
	cell.tone = likely ? TONE_GOOD : TONE_PLAIN;
	return cell;
}

/* --- one register ------------------------------------------------------------------------- */

static void
put_word(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, uint32_t at)
{
	const struct survey_register *one = &survey->registers[at];
	char document[REGISTERS_DOCUMENT], hex[8], bits[REGISTERS_TEXT], range[32] = "";
	char values[FORM_HUNDREDTHS + 1][MARKED];
	struct text channels;

	text_init(&channels, CHANNELS);
	registers_view_channels(ask, survey->first + at, &channels);
	registers_document(ask->table, survey->first + at, document);
	snprintf(hex, sizeof hex, "%04X", one->word);
	registers_bits_text(one->word, bits);
	if (one->changes > 0)
		snprintf(range, sizeof range, "%d..%d", one->lowest, one->highest);
	struct cell moved = cell_count(one->changes);
	if (survey->readings < 2)
		moved = cell_words("");
	else if (one->changes > 0)
		moved.tone = TONE_STRONG;
	const struct cell cells[] = {
	    cell_count(survey->first + at),
	    cell_count(survey->first + at + 1),
	    cell_words(document),
	    cell_words(hex),
	    form_cell(ask, FORM_UINT16, &one->word, values[FORM_UINT16]),
	    form_cell(ask, FORM_INT16, &one->word, values[FORM_INT16]),
	    form_cell(ask, FORM_TENTHS, &one->word, values[FORM_TENTHS]),
	    form_cell(ask, FORM_HUNDREDTHS, &one->word, values[FORM_HUNDREDTHS]),
	    moved,
	    cell_words(range),
	    cell_words(bits),
	    cell_words(channels.length ? channels.bytes : ""),
	};
	page_row(page, cells);
	text_release(&channels);
}

static void
put_singles(
    struct page *page, const struct registers_ask *ask, const struct survey *survey)
{
	static const struct column columns[] = {
	    {NULL, "address", 0},
	    {NULL, "from 1", 0},
	    {NULL, "document", 0},
	    {NULL, "hex", 0},
	    {NULL, "uint16", 0},
	    {NULL, "int16", 0},
	    {NULL, "tenths", 0},
	    {NULL, "hundredths", 0},
	    {NULL, "moved", 0},
	    {NULL, "int16 from..to", 0},
	    {NULL, "bits 15..0", 0},
	    {NULL, "channel", 0},
	};
	char hole[REGISTERS_HOLE];

	page_table(page, NULL, "One register", columns, COUNT(columns));
	for (uint32_t at = 0; at < survey->count;) {
		uint32_t same = survey_same(survey, at);
		if (survey->registers[at].state == SURVEY_THERE) {
			for (uint32_t i = 0; i < same; i++)
				put_word(page, ask, survey, at + i);
		} else {
			registers_view_hole(survey, at, same, hole);
			page_across(page, TONE_FAINT, hole);
		}
		at += same;
	}
	page_table_end(page);
}

/* --- two registers ------------------------------------------------------------------------- */

static bool
is_pair(const struct survey *survey, uint32_t at, uint16_t words[static 2])
{
	if (at + 1 >= survey->count || survey->registers[at].state != SURVEY_THERE ||
	    survey->registers[at + 1].state != SURVEY_THERE)
		return false;
	words[0] = survey->registers[at].word;
	words[1] = survey->registers[at + 1].word;
	return true;
}

static bool
is_any_likely(
    const struct registers_ask *ask, enum registers_form first, const uint16_t *words)
{
	for (int i = 0; i < ORDERS; i++)
		if (registers_is_likely(
			&ask->expect, (enum registers_form)((int)first + i), words))
			return true;
	return false;
}

/* Whether anything of what was read is likely. */
static bool
is_any_marked(const struct registers_ask *ask, const struct survey *survey)
{
	uint16_t words[2];

	for (uint32_t at = 0; at < survey->count; at++) {
		bool pair = is_pair(survey, at, words);
		words[0] = survey->registers[at].word;
		for (int i = 0; i < FORM_COUNT; i++) {
			enum registers_form form = (enum registers_form)i;
			if (survey->registers[at].state == SURVEY_THERE &&
			    (pair || registers_form_width(form) == 1) &&
			    registers_is_likely(&ask->expect, form, words))
				return true;
		}
	}
	return false;
}

/* The table of one or two forms in their four orders; how many pairs it leaves out. */
static uint32_t
put_pairs(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, const struct column *columns, size_t count)
{
	bool marked_alone = ask->expect.given && is_any_marked(ask, survey);
	static const enum registers_form first[] = {
	    FORM_FLOAT_ABCD, FORM_UINT32_ABCD, FORM_INT32_ABCD};
	bool floats = count == 2 + ORDERS;
	size_t from = floats ? 0 : 1, to = floats ? 1 : 3;
	uint32_t left_out = 0;
	uint16_t words[2];

	page_table(page, NULL,
	    floats ? "Two registers as a float" : "Two registers as a whole number",
	    columns, count);
	for (uint32_t at = 0; at + 1 < survey->count; at++) {
		struct cell cells[2 + 2 * ORDERS];
		char values[2 * ORDERS][MARKED], hex[16];
		bool worth = false;
		size_t n = 0, v = 0;
		if (!is_pair(survey, at, words))
			continue;
		snprintf(hex, sizeof hex, "%04X %04X", words[0], words[1]);
		cells[n++] = cell_count(survey->first + at);
		cells[n++] = cell_words(hex);
		for (size_t f = from; f < to; f++) {
			worth |= is_any_likely(ask, first[f], words) ||
			         (!marked_alone &&
				     registers_is_worth_showing(words, first[f]));
			for (int i = 0; i < ORDERS; i++, v++)
				cells[n++] = form_cell(ask,
				    (enum registers_form)((int)first[f] + i), words,
				    values[v]);
		}
		left_out += !worth;
		if (worth)
			page_row(page, cells);
	}
	page_table_end(page);
	return left_out;
}

/* Whole numbers in two registers that fit what is expected once they are scaled. */
static void
put_scaled(
    struct page *page, const struct registers_ask *ask, const struct survey *survey)
{
	static const struct column columns[] = {
	    {NULL, "address", 0},
	    {NULL, "hex", 0},
	    {NULL, "type", 0},
	    {NULL, "word order", 0},
	    {NULL, "scale", 0},
	    {NULL, "value", 0},
	};
	uint16_t words[2];

	page_table(
	    page, NULL, "Two registers as a scaled number", columns, COUNT(columns));
	for (uint32_t at = 0; at + 1 < survey->count; at++) {
		char hex[16], value[MARKED];
		if (!is_pair(survey, at, words))
			continue;
		snprintf(hex, sizeof hex, "%04X %04X", words[0], words[1]);
		for (int i = FORM_PLAIN_COUNT; i < FORM_COUNT; i++) {
			enum registers_form form = (enum registers_form)i;
			const struct registers_form_traits *traits =
			    &registers_forms[form];
			if (!registers_is_likely(&ask->expect, form, words))
				continue;
			const struct cell cells[] = {
			    cell_count(survey->first + at),
			    cell_words(hex),
			    cell_words(words_encoding.list[traits->encoding]),
			    cell_words(words_order.list[traits->order]),
			    cell_shown(traits->scale, traits->scale, traits->digits),
			    form_cell(ask, form, words, value),
			};
			page_row(page, cells);
		}
	}
	page_table_end(page);
}

/* Registers that look as if a sensor had no value. */
static void
put_oddities(struct page *page, const struct survey *survey)
{
	for (uint32_t at = 0; at < survey->count; at++) {
		const struct survey_register *one = &survey->registers[at];
		if (one->state == SURVEY_THERE && *registers_oddity(one->word))
			page_note(page, NULL, TONE_PLAIN, "%u is %s",
			    (unsigned)(survey->first + at),
			    registers_oddity(one->word));
	}
}

void
registers_view_put_words(
    struct page *page, const struct registers_ask *ask, const struct survey *survey)
{
	static const struct column floats[] = {
	    {NULL, "address", 0},
	    {NULL, "hex", 0},
	    {NULL, "float32 abcd", 0},
	    {NULL, "float32 badc", 0},
	    {NULL, "float32 cdab", 0},
	    {NULL, "float32 dcba", 0},
	};
	static const struct column wholes[] = {
	    {NULL, "address", 0},
	    {NULL, "hex", 0},
	    {NULL, "uint32 abcd", 0},
	    {NULL, "uint32 badc", 0},
	    {NULL, "uint32 cdab", 0},
	    {NULL, "uint32 dcba", 0},
	    {NULL, "int32 abcd", 1},
	    {NULL, "int32 badc", 1},
	    {NULL, "int32 cdab", 1},
	    {NULL, "int32 dcba", 1},
	};
	uint32_t left_out;

	put_singles(page, ask, survey);
	put_oddities(page, survey);
	left_out = put_pairs(page, ask, survey, floats, COUNT(floats));
	left_out += put_pairs(page, ask, survey, wholes, COUNT(wholes));
	put_scaled(page, ask, survey);
	if (ask->expect.given && !is_any_marked(ask, survey))
		page_note(page, "no_mark", TONE_BAD,
		    "nothing of it lies in %.10g..%.10g, nor in tenths to thousandths: "
		    "does the display show another unit, or is it another register?",
		    ask->expect.low, ask->expect.high);
	else if (left_out > 0 && ask->expect.given)
		page_note(page, NULL, TONE_FAINT,
		    "left out are pairs without a mark: --format csv and json have "
		    "them");
	else if (left_out > 0)
		page_note(page, NULL, TONE_FAINT,
		    "left out are pairs that no order makes a number from 0.001 to 10 "
		    "million: --format csv and json have them");
}
