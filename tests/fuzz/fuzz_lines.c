/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Names and texts in points for stores: whatever they are, one line a point comes out with
 * the tags and fields that were put in and no other, read in a way of its own; and what a
 * store is asked with such names keeps them within their quotes.
 *
 * Input: strings for an event's line, kind and text and for the site; one to ask for.
 */
#include "tests/fuzz/words.h"

#include "cli/source/influx.h"
#include "cli/source/victoria.h"
#include "daemon/publish/line_protocol.h"

enum { ROOM = 1 << 20 };

/* Up to one of `ends` that has no backslash before it; NULL: there is none. */
static const char *
find_end(const char *at, const char *ends)
{
	while (*at != '\0' && strchr(ends, *at) == NULL)
		at += *at == '\\' && at[1] != '\0' ? 2 : 1;
	return *at != '\0' ? at : NULL;
}

/* Behind "NAME=", which must stand there. */
static const char *
after(const char *at, const char *name)
{
	size_t length = strlen(name);

	MUST(strncmp(at, name, length) == 0);
	return at + length;
}

/* Behind the value of a tag: not empty, nothing in it that parts a line. */
static const char *
after_tag(const char *at)
{
	const char *end = find_end(at, " ,=\n");

	MUST(end != NULL);
	MUST(end > at && *end != '=' && *end != '\n');
	return end;
}

static void
check_event(const char *line, bool strings)
{
	const char *at = after(line, "event,");

	at = after_tag(after(at, "site="));
	at = after_tag(after(at, ",line="));
	at = after_tag(after(at, ",kind="));
	at = after(at, " count=1,at_us=");
	at += strspn(at, "0123456789");
	if (strings) {
		at = after(at, ",text=\"");
		at = find_end(at, "\"");
		MUST(at != NULL);
		at++;
	}
	at = after(at, " ");
	MUST(strspn(at, "0123456789") == 19);
	MUST(strcmp(at + 19, "\n") == 0);
}

static void
put_event(const struct ledger_event *event, const char *site, enum store_kind kind)
{
	const struct line_protocol_form form = line_protocol_form(site, kind);
	struct text text;

	text_init(&text, ROOM);
	line_protocol_event(&text, &form, event);
	MUST(!text.failed && text.length == strlen(text.bytes));
	MUST(is_text(text.bytes, text.length, "\n"));
	MUST(strchr(text.bytes, '\n') == text.bytes + text.length - 1);
	check_event(text.bytes, form.strings);
	text_release(&text);
}

/* Between quotes, to the last byte. */
static void
check_quotes(const char *at, char quote)
{
	MUST(*at == quote);
	at = find_end(at + 1, (const char[]){quote, '\n', '\0'});
	MUST(at != NULL && *at == quote && at[1] == '\0');
}

static void
ask(const char *name)
{
	struct text text;

	text_init(&text, ROOM);
	influx_quote(&text, '\'', name);
	check_quotes(text.bytes, '\'');
	text_clear(&text);
	influx_quote(&text, '"', name);
	check_quotes(text.bytes, '"');
	text_clear(&text);
	victoria_add_label(&text, "line", name);
	check_quotes(after(text.bytes, ",line="), '"');
	text_release(&text);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	struct input input = {bytes, length};
	char line[WORDS_MOST], kind[WORDS_MOST], told[WORDS_MOST], site[WORDS_MOST];
	struct ledger_event event = {
	    .change = 12345, .at = {INT64_C(1772427600041000000)}};

	input_words(&input, line);
	input_words(&input, kind);
	input_words(&input, told);
	input_words(&input, site);
	text_copy(event.line, sizeof event.line, line);
	text_copy(event.kind, sizeof event.kind, kind);
	text_copy(event.text, sizeof event.text, told);
	put_event(&event, site, STORE_INFLUXDB2);
	put_event(&event, site, STORE_VICTORIAMETRICS);
	ask(line);
	return 0;
}
