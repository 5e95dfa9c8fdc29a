/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One register: all that it can mean in a row each, and what to write for it. */
#include "cli/command/registers_view.h"

#include <stdio.h>
#include <string.h>

#include "cli/command/registers_ask.h"
#include "cli/command/registers_survey.h"
#include "cli/page/page.h"
#include "conf/register.h"
#include "conf/words.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { LINES = 512 };

/* The forms of one register, and those of two where the next one is there too. */
static bool
is_known(const struct survey *survey, enum registers_form form)
{
	return registers_form_width(form) == 1 ||
	       (survey->count > 1 && survey->registers[1].state == SURVEY_THERE);
}

static void
put_forms(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, const uint16_t *words)
{
	static const struct column columns[] = {
	    {NULL, "type", 0},
	    {NULL, "word order", 0},
	    {NULL, "scale", 0},
	    {NULL, "value", 0},
	    {NULL, "", 0},
	};

	page_table(page, NULL, "What it can mean", columns, COUNT(columns));
	for (int i = 0; i < FORM_COUNT; i++) {
		enum registers_form form = (enum registers_form)i;
		const struct registers_form_traits *traits = &registers_forms[form];
		bool likely = registers_is_likely(&ask->expect, form, words);
		char value[REGISTERS_TEXT];
		if (!is_known(survey, form) || (i >= FORM_PLAIN_COUNT && !likely))
			continue;
		registers_form_text(form, words, value);
		struct cell shown = cell_number(0, 0);
		shown.instead = value;
		shown.tone = likely ? TONE_GOOD : TONE_PLAIN;
		const struct cell cells[] = {
		    cell_words(words_encoding.list[traits->encoding]),
		    cell_words(registers_form_width(form) == 2
				   ? words_order.list[traits->order]
				   : ""),
		    cell_shown(traits->scale, traits->scale, traits->digits),
		    shown,
		    cell_words(likely ? "*" : ""),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

/* A channel as the configuration has it; its role and unit nobody can see here. */
static void
put_channel(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, enum registers_form form, const uint16_t *words)
{
	char value[REGISTERS_TEXT];
	struct text text;
	char *rest, *line;

	text_init(&text, LINES);
	registers_form_text(form, words, value);
	text_printf(&text, "[channel %s.NAME]\nrole = other\n",
	    ask->configured >= 0 ? ask->device.name : "DEVICE");
	registers_channel_lines(&text, ask->table, survey->first, form);
	page_open(page, GROUP_ITEM, NULL, NULL);
	page_field(page, "form", NULL, cell_words(registers_forms[form].key));
	page_field(page, "value", NULL, cell_number(registers_decode(form, words), 0));
	page_field(page, "lines", NULL, cell_words(text.length ? text.bytes : ""));
	page_note(page, NULL, TONE_FAINT, "; %s", value);
	rest = text.bytes;
	while ((line = strsep(&rest, "\n")) != NULL)
		page_note(page, NULL, TONE_PLAIN, "%s", line);
	page_close(page);
	text_release(&text);
}

static void
put_channels(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, const uint16_t *words)
{
	bool any = false;

	page_open(page, GROUP_LIST, "channels", NULL);
	page_note(page, NULL, TONE_PLAIN, "%s", "");
	for (int i = 0; i < FORM_COUNT; i++) {
		enum registers_form form = (enum registers_form)i;
		if (!is_known(survey, form) ||
		    !registers_is_likely(&ask->expect, form, words))
			continue;
		put_channel(page, ask, survey, form, words);
		any = true;
	}
	page_close(page);
	if (any)
		page_note(page, NULL, TONE_FAINT,
		    "role and unit are for you to say: 'other' is logged and used by "
		    "nothing");
	else
		page_note(page, "no_channel", TONE_BAD, "%s",
		    ask->expect.given
			? "nothing that it can mean lies in the range expected: no "
			  "lines of a channel; is it another register?"
			: "nothing that it can mean is likely by the rule of thumb: no "
			  "lines of a channel; say what the display shows: --expect "
			  "20..230");
}

void
registers_view_put_one(
    struct page *page, const struct registers_ask *ask, const struct survey *survey)
{
	const struct survey_register *one = &survey->registers[0];
	char document[REGISTERS_DOCUMENT], bits[REGISTERS_TEXT], text[REGISTERS_HOLE];
	bool pair = is_known(survey, FORM_FLOAT_ABCD);
	const uint16_t words[2] = {
	    one->word, pair ? survey->registers[1].word : (uint16_t)0};

	if (one->state != SURVEY_THERE) {
		registers_view_hole(survey, 0, 1, text);
		page_note(page, NULL, TONE_BAD, "%s", text);
		return;
	}
	registers_document(ask->table, survey->first, document);
	registers_bits_text(one->word, bits);
	page_field(page, NULL, "address", cell_count(survey->first));
	page_field(page, NULL, "from 1", cell_count(survey->first + 1));
	page_field(page, NULL, "document", cell_words(document));
	snprintf(text, sizeof text, pair ? "%04X %04X, with the next one" : "%04X",
	    words[0], words[1]);
	page_field(page, NULL, "hex", cell_words(text));
	page_field(page, NULL, "bits 15..0", cell_words(bits));
	if (*registers_oddity(one->word))
		page_field(
		    page, NULL, "remark", cell_words(registers_oddity(one->word)));
	put_forms(page, ask, survey, words);
	put_channels(page, ask, survey, words);
}
