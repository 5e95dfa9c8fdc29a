/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/refusals.h"

#include <ctype.h>
#include <string.h>

#include "daemon/base/text.h"

/* --- the wording ---------------------------------------------------------------------- */

/* What a quotation is long, both quotes with it, if it is of a line and no name: 0 otherwise.
 * Quotes within a line of text are escaped, or of the other sort. */
static size_t
quoted_line(const char *answer, const char *at)
{
	bool begins = at == answer || !isalnum((unsigned char)at[-1]);
	const char *end = at + 1;

	if ((*at != '"' && *at != '\'' && *at != '`') || !begins)
		return 0;
	while (*end != '\0' && (*end != *at || end[-1] == '\\'))
		end++;
	size_t length = (size_t)(end - at);
	if (memchr(at, '=', length) == NULL)
		return 0;
	return length + (*end != '\0');
}

static size_t
number(const char *at)
{
	return isdigit((unsigned char)*at) ? strspn(at, "0123456789.") : 0;
}

void
refusals_wording(const char *answer, bool plain, char to[static REFUSALS_WORDS])
{
	size_t length = 0;

	for (const char *at = answer; *at != '\0' && length + 4 < REFUSALS_WORDS;) {
		size_t quoted = quoted_line(answer, at);
		size_t digits = plain ? number(at) : 0;
		if (quoted > 0) {
			memcpy(to + length, "...", 3);
			length += 3;
			at += quoted;
		} else if (digits > 0) {
			to[length++] = '#';
			at += digits;
		} else {
			to[length++] = *at++;
		}
	}
	to[length] = '\0';
}

/* --- putting together ------------------------------------------------------------------- */

static struct refusals_kind *
kind_of(struct refusals *refusals, const char *answer)
{
	char key[REFUSALS_WORDS];
	bool is_last = refusals->count == REFUSALS_MOST - 1;

	refusals_wording(answer, true, key);
	for (size_t i = 0; i < refusals->count; i++)
		if (strcmp(refusals->list[i].key, key) == 0)
			return &refusals->list[i];
	if (refusals->count == REFUSALS_MOST)
		return &refusals->list[REFUSALS_MOST - 1];
	struct refusals_kind *kind = &refusals->list[refusals->count++];
	*kind = (struct refusals_kind){0};
	text_copy(kind->key, sizeof kind->key, is_last ? "" : key);
	if (is_last)
		text_copy(kind->words, sizeof kind->words, "other words");
	else
		refusals_wording(answer, false, kind->words);
	return kind;
}

/* "shot, event"; what has no room is left out. */
static void
add_name(char names[static REFUSALS_NAMES], const char *name, size_t length)
{
	for (const char *at = names; *at != '\0';) {
		size_t one = strcspn(at, ",");
		if (one == length && memcmp(at, name, length) == 0)
			return;
		at += one + strspn(at + one, ", ");
	}
	size_t used = strlen(names);
	if (length == 0 || used + length + 3 > REFUSALS_NAMES)
		return;
	if (used > 0) {
		memcpy(names + used, ", ", 2);
		used += 2;
	}
	memcpy(names + used, name, length);
	names[used + length] = '\0';
}

static void
add_names(struct refusals_kind *kind, const char *line)
{
	const char *tag = strstr(line, ",line=");

	add_name(kind->measurements, line, strcspn(line, ", "));
	if (tag != NULL && tag < line + strcspn(line, " "))
		add_name(kind->of, tag + 6, strcspn(tag + 6, ", "));
}

static void
widen(struct wall *from, struct wall *to, struct wall at)
{
	if (at.ns == 0)
		return;
	if (from->ns == 0 || at.ns < from->ns)
		*from = at;
	if (at.ns > to->ns)
		*to = at;
}

void
refusals_add(struct refusals *refusals, const struct ledger_refused *refused)
{
	struct refusals_kind *kind = kind_of(refusals, refused->answer);

	kind->lines++;
	kind->lately += refused->at.ns >= refusals->since.ns;
	add_names(kind, refused->line);
	widen(&kind->from, &kind->to, refused->time);
	widen(&kind->first, &kind->last, refused->at);
}

const struct refusals_kind *
refusals_most_lately(const struct refusals *refusals)
{
	const struct refusals_kind *most = NULL;

	for (size_t i = 0; i < refusals->count; i++)
		if (refusals->list[i].lately > (most != NULL ? most->lately : 0))
			most = &refusals->list[i];
	return most;
}

/* --- what to do --------------------------------------------------------------------------- */

const char *
refusals_advice(const char *words)
{
	if (strcasestr(words, "retention") != NULL)
		return "its retention is shorter than what waits for it here, and is "
		       "the "
		       "store's own to change: make it longer there";
	if (strcasestr(words, "field type") != NULL ||
	    strcasestr(words, "column type") != NULL)
		return "something else has written that field there as another type: "
		       "give evensoak a data base of its own";
	return NULL;
}
