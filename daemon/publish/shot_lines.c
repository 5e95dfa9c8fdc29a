/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/shot_lines.h"

#include <string.h>

#include "daemon/base/error.h"

struct adding {
	struct shot_lines *lines;
	struct text *text;
	const struct ledger_shot *shot;
	const struct ledger_superseded *earlier; /* that is being marked */
	int code;
	struct error *error;
};

void
shot_lines_init(struct shot_lines *lines, struct ledger_read *read,
    const struct line_protocol_form *form)
{
	*lines = (struct shot_lines){.form = *form, .read = read};
}

/* Shots that follow each other were mostly made under the same one. */
static int
find_hash(struct shot_lines *lines, int64_t set_up, struct error *error)
{
	int code = 0;

	if (set_up == lines->set_up)
		return 0;
	lines->hash[0] = '\0';
	lines->set_up = 0;
	if (set_up != 0)
		code = ledger_read_setup_hash(lines->read, set_up, lines->hash, error);
	if (code == 0)
		lines->set_up = set_up;
	return code;
}

static int
take_channel(void *arg, const struct ledger_channel *channel)
{
	struct adding *adding = arg;

	line_protocol_channel(
	    adding->text, &adding->lines->form, adding->shot, channel);
	return 0;
}

static int
take_channel_of_then(void *arg, const struct ledger_channel *channel)
{
	struct adding *adding = arg;

	line_protocol_channel_mark(
	    adding->text, &adding->lines->form, adding->shot, adding->earlier, channel);
	return 0;
}

static int
take_earlier(void *arg, const struct ledger_superseded *earlier)
{
	struct adding *adding = arg;

	line_protocol_mark(adding->text, &adding->lines->form, adding->shot, earlier);
	adding->earlier = earlier;
	adding->code =
	    ledger_read_superseded_channels(adding->lines->read, adding->shot->id,
		earlier->revision, take_channel_of_then, adding, adding->error);
	return adding->code;
}

int
shot_lines_add(struct shot_lines *lines, struct text *text,
    const struct ledger_shot *shot, struct error *error)
{
	struct adding adding = {lines, text, shot, .error = error};
	int code = find_hash(lines, shot->setup, error);

	if (code != 0)
		return code;
	line_protocol_shot(text, &lines->form, shot, lines->hash);
	line_protocol_words(text, &lines->form, shot, lines->hash);
	line_protocol_absent(text, &lines->form, shot);
	code =
	    ledger_read_channels(lines->read, shot->id, take_channel, &adding, error);
	if (code == 0 && shot->revision > 0)
		code = ledger_read_superseded(
		    lines->read, shot->id, take_earlier, &adding, error);
	if (code == 0)
		code = adding.code;
	if (code == 0 && text->failed)
		code = error_set(error, ERROR_MEMORY,
		    "out of memory for the lines of shot %lld of line '%s'",
		    (long long)shot->shot_no, shot->line);
	return code;
}
