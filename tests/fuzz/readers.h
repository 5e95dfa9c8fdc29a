/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Readers of what pages are written in, which share no code with the writers: each ends the
 * process where it is not as it should be.
 */
#ifndef TESTS_FUZZ_READERS_H
#define TESTS_FUZZ_READERS_H

#include "tests/fuzz/words.h"

#include <expat.h>
#include <jansson.h>

/* Without the colours that were asked for. */
static inline size_t
take_colours(char *bytes, size_t length)
{
	size_t kept = 0;

	for (size_t i = 0; i < length; i++) {
		if (bytes[i] == '\033' && i + 1 < length && bytes[i + 1] == '[') {
			size_t digits = strspn(bytes + i + 2, "0123456789;");
			if (bytes[i + 2 + digits] == 'm') {
				i += 2 + digits;
				continue;
			}
		}
		bytes[kept++] = bytes[i];
	}
	return kept;
}

static inline void
check_json(const char *bytes, size_t length)
{
	json_error_t error;
	json_t *read = json_loadb(bytes, length, 0, &error);

	MUST(read != NULL);
	MUST(is_text(bytes, length, "\n"));
	json_decref(read);
}

static inline void
check_cell(const char *from, size_t length)
{
	char cell[4 * WORDS_MOST], *end;

	MUST(length < sizeof cell);
	memcpy(cell, from, length);
	cell[length] = '\0';
	if (*cell == '\0' || strchr("=+-@\t\r", *cell) == NULL)
		return;
	(void)strtod(cell, &end);
	MUST(end > cell && *end == '\0');
}

/* RFC 4180, 2: each row so many cells, quotes doubled, CRLF behind it. */
static inline void
check_csv(const char *bytes, size_t length, int columns)
{
	const char *at = bytes, *end = bytes + length;
	int cells = 0;

	MUST(is_text(bytes, length, "\r\n\t"));
	while (at < end) {
		bool quoted = *at == '"';
		const char *from = at += quoted;

		while (at < end && (quoted ? *at != '"' || at[1] == '"'
					   : strchr(",\r\n\"", *at) == NULL))
			at += quoted && *at == '"' ? 2 : 1;
		MUST(at < end);
		check_cell(from, (size_t)(at - from));
		at += quoted;
		cells++;
		if (*at == ',') {
			at++;
			continue;
		}
		MUST(strncmp(at, "\r\n", 2) == 0 && cells == columns);
		at += 2;
		cells = 0;
	}
	MUST(cells == 0);
}

/* --- markup ---------------------------------------------------------------------------- */

static inline bool
is_among(const char *name, const char *list)
{
	size_t length = strlen(name);

	for (const char *at = list; (at = strstr(at, name)) != NULL; at += length)
		if ((at == list || at[-1] == ' ') &&
		    (at[length] == ' ' || at[length] == '\0'))
			return true;
	return false;
}

static inline void
begin_element(void *of, const char *name, const char **attributes)
{
	(void)of;
	MUST(is_among(name,
	    "html head meta link title style body main section nav ul li a p "
	    "h1 h2 h3 h4 h5 h6 dl div dt dd span table caption thead tbody "
	    "tr th td wbr figure figcaption svg desc g rect clipPath text "
	    "polyline polygon"));
	for (; *attributes != NULL; attributes += 2) {
		MUST(
		    is_among(attributes[0], "lang xmlns charset name content rel href "
					    "id class style scope colspan "
					    "tabindex role aria-hidden aria-labelledby "
					    "aria-describedby aria-label "
					    "version width height viewBox font-family "
					    "font-size font-weight x y fill "
					    "stroke stroke-width stroke-linejoin "
					    "stroke-dasharray points transform "
					    "text-anchor clip-path"));
		if (strcmp(attributes[0], "href") == 0)
			MUST(attributes[1][0] == '#' ||
			     strcmp(attributes[1], "data:,") == 0);
	}
}

static inline void
take_words(void *of, const char *words, int length)
{
	(void)of;
	MUST(is_text(words, (size_t)length, "\n\t"));
}

static inline void
refuse_instruction(void *of, const char *target, const char *words)
{
	(void)of, (void)target, (void)words;
	MUST(!"an instruction in the document");
}

static inline void
refuse_comment(void *of, const char *words)
{
	(void)of, (void)words;
	MUST(!"a comment in the document");
}

static inline void
check_markup(const char *bytes, size_t length)
{
	XML_Parser parser = XML_ParserCreate("UTF-8");

	MUST(parser != NULL);
	XML_SetStartElementHandler(parser, begin_element);
	XML_SetCharacterDataHandler(parser, take_words);
	XML_SetProcessingInstructionHandler(parser, refuse_instruction);
	XML_SetCommentHandler(parser, refuse_comment);
	if (XML_Parse(parser, bytes, (int)length, 1) != XML_STATUS_OK) {
		fprintf(stderr, "%s at line %lu of:\n%s\n",
		    XML_ErrorString(XML_GetErrorCode(parser)),
		    (unsigned long)XML_GetCurrentLineNumber(parser), bytes);
		MUST(!"expat takes it");
	}
	XML_ParserFree(parser);
	MUST(is_text(bytes, length, "\n\t"));
}

#endif
