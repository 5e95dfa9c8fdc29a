/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether a document is well formed and keeps to itself: elements are closed in order,
 * attributes quoted, characters allowed, ids of one use each, what is referred to is there.
 */
#ifndef TESTS_UNIT_CLI_PAGE_MARKUP_H
#define TESTS_UNIT_CLI_PAGE_MARKUP_H

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/utf8.h"

enum { MARKUP_DEPTH = 64, MARKUP_NAME = 32, MARKUP_IDS = 4096, MARKUP_ID = 48 };

struct markup {
	const char *at;
	char open[MARKUP_DEPTH][MARKUP_NAME];
	int depth;
	char ids[MARKUP_IDS][MARKUP_ID], asked[MARKUP_IDS][MARKUP_ID];
	int id_count, asked_count;
	const char *fault; /* NULL: none */
};

static inline void
markup_fault(struct markup *markup, const char *fault)
{
	if (!markup->fault)
		markup->fault = fault;
}

static inline void
markup_note(char (*list)[MARKUP_ID], int *count, const char *from, size_t length)
{
	if (*count < MARKUP_IDS)
		snprintf(list[(*count)++], MARKUP_ID, "%.*s", (int)length, from);
}

/* The value of an attribute, without its quotes. */
static inline void
markup_attribute(
    struct markup *markup, const char *name, size_t name_length, const char *value)
{
	size_t length = strcspn(value, "\"");
	const char *url = memmem(value, length, "url(#", 5);

	if (memchr(value, '<', length))
		markup_fault(markup, "'<' in an attribute");
	if (name_length == 2 && memcmp(name, "id", 2) == 0)
		markup_note(markup->ids, &markup->id_count, value, length);
	if (name_length > 4 && memcmp(name, "aria-", 5) == 0 &&
	    memmem(name, name_length, "edby", 4))
		markup_note(markup->asked, &markup->asked_count, value, length);
	if (name_length == 4 && memcmp(name, "href", 4) == 0 && *value == '#')
		markup_note(markup->asked, &markup->asked_count, value + 1, length - 1);
	else if (name_length == 4 && memcmp(name, "href", 4) == 0 &&
		 memcmp(value, "data:,", 6) != 0)
		markup_fault(markup, "refers to something outside");
	if (name_length == 3 && memcmp(name, "src", 3) == 0)
		markup_fault(markup, "fetches something");
	if (name_length > 2 && memcmp(name, "on", 2) == 0)
		markup_fault(markup, "has a handler");
	if (url)
		markup_note(markup->asked, &markup->asked_count, url + 5,
		    strcspn(url + 5, ")"));
}

static inline void
markup_close(struct markup *markup, const char *name)
{
	if (markup->depth == 0 || strcmp(markup->open[markup->depth - 1], name) != 0)
		markup_fault(markup, "closed out of order");
	else
		markup->depth--;
}

/* After '<': an element's name, its attributes, its end. */
static inline void
markup_tag(struct markup *markup)
{
	const char *at = markup->at;
	bool closing = *at == '/';
	char name[MARKUP_NAME];
	size_t length =
	    strspn(at + closing, "abcdefghijklmnopqrstuvwxyzCDPH0123456789");

	snprintf(name, sizeof name, "%.*s", (int)length, at + closing);
	if (length == 0)
		markup_fault(markup, "'<' begins no element");
	if (strcmp(name, "script") == 0)
		markup_fault(markup, "a script");
	at += closing + length;
	while (*at == ' ') {
		size_t key = strcspn(++at, "= />");
		const char *value = at + key + 2;
		if (at[key] != '=' || at[key + 1] != '"') {
			markup_fault(markup, "an attribute without quotes");
			break;
		}
		markup_attribute(markup, at, key, value);
		at = value + strcspn(value, "\"") + 1;
	}
	bool empty = *at == '/';
	at += empty;
	if (*at != '>')
		markup_fault(markup, "a tag without an end");
	markup->at = *at ? at + 1 : at;
	if (closing)
		markup_close(markup, name);
	else if (!empty && markup->depth < MARKUP_DEPTH)
		memcpy(markup->open[markup->depth++], name, sizeof name);
}

static inline void
markup_text(struct markup *markup)
{
	uint32_t point = utf8_next(&markup->at);

	if (point < 0x20 && point != '\n' && point != '\t')
		markup_fault(markup, "a control character");
	if (point == '>')
		markup_fault(markup, "'>' in text");
	if (point == '&' && strncmp(markup->at, "amp;", 4) != 0 &&
	    strncmp(markup->at, "lt;", 3) != 0 && strncmp(markup->at, "gt;", 3) != 0 &&
	    strncmp(markup->at, "quot;", 5) != 0 && strncmp(markup->at, "#39;", 4) != 0)
		markup_fault(markup, "'&' alone");
}

static inline void
markup_references(struct markup *markup)
{
	for (int i = 0; i < markup->id_count; i++)
		for (int k = 0; k < i; k++)
			if (strcmp(markup->ids[i], markup->ids[k]) == 0)
				markup_fault(markup, "an id used twice");
	for (int i = 0; i < markup->asked_count; i++) {
		bool there = false;
		for (int k = 0; k < markup->id_count; k++)
			there |= strcmp(markup->asked[i], markup->ids[k]) == 0;
		if (!there)
			markup_fault(markup, "refers to an id that is not there");
	}
}

/* NULL when it is as it should be, else what is wrong. */
static inline const char *
markup_check(const char *document)
{
	static struct markup markup;
	static const char type[] = "<!DOCTYPE html>\n";

	memset(&markup, 0, sizeof markup);
	markup.at = document;
	if (strncmp(document, type, strlen(type)) != 0)
		return "no document type";
	markup.at += strlen(type);
	while (*markup.at && !markup.fault) {
		bool style = markup.depth > 0 &&
		             strcmp(markup.open[markup.depth - 1], "style") == 0;
		const char *end = style ? strchr(markup.at, '<') : NULL;
		if (style && end && end > markup.at)
			markup.at = end;
		else if (*markup.at == '<')
			markup.at++, markup_tag(&markup);
		else
			markup_text(&markup);
	}
	if (markup.depth > 0)
		markup_fault(&markup, "not closed");
	if (!utf8_is_valid(document, strlen(document)))
		markup_fault(&markup, "no UTF-8");
	markup_references(&markup);
	return markup.fault;
}

#endif
