/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/lettering.h"

#include <math.h>
#include <string.h>

#include "cli/picture/palette.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

#define ELLIPSIS "\xe2\x80\xa6"
enum { SENTENCE_LINES = 2 };
#define SENTENCE_LINE 14.0
static const struct canvas_letters heading_letters = {
    .size = LETTERING_HEADING, .rgb = PALETTE_INK, .bold = true};
static const struct canvas_letters sentence_letters = {
    .size = LETTERING_WORDS, .rgb = PALETTE_INK};

void
lettering_fit(const struct canvas_letters *letters, const char *string, double width,
    char to[static LETTERING_ROOM])
{
	const char *next = string;
	size_t fits = 0;

	if (strlen(string) < LETTERING_ROOM &&
	    canvas_text_width(letters, string) <= width) {
		text_copy(to, LETTERING_ROOM, string);
		return;
	}
	to[0] = '\0';
	while (utf8_next(&next) != 0) {
		char tried[LETTERING_ROOM];
		size_t length = (size_t)(next - string);
		if (length + sizeof ELLIPSIS > sizeof tried)
			break;
		memcpy(tried, string, length);
		memcpy(tried + length, ELLIPSIS, sizeof ELLIPSIS);
		if (canvas_text_width(letters, tried) > width)
			break;
		fits = length;
	}
	while (fits > 0 && string[fits - 1] == ' ')
		fits--;
	if (fits == 0)
		return;
	memcpy(to, string, fits);
	memcpy(to + fits, ELLIPSIS, sizeof ELLIPSIS);
}

bool
lettering_line(const struct canvas_letters *letters, const char **string, double width,
    char to[static LETTERING_ROOM])
{
	const char *begin = *string + strspn(*string, " ");
	size_t fits = 0;

	if (*begin == '\0')
		return false;
	for (size_t length = strcspn(begin, " "); length < LETTERING_ROOM;) {
		memcpy(to, begin, length);
		to[length] = '\0';
		if (canvas_text_width(letters, to) > width)
			break;
		fits = length;
		if (begin[length] == '\0')
			break;
		length += 1 + strcspn(begin + length + 1, " ");
	}
	if (fits == 0) { /* one word that is too long */
		fits = strcspn(begin, " ");
		char word[LETTERING_ROOM];
		snprintf(word, sizeof word, "%.*s", (int)fits, begin);
		lettering_fit(letters, word, width, to);
	} else {
		memcpy(to, begin, fits);
		to[fits] = '\0';
	}
	*string = begin + fits;
	return true;
}

void
lettering_number(
    double value, int digits, bool shortest, char to[static LETTERING_NUMBER])
{
	if (fabs(value) >= 1e12 || digits > 9) {
		snprintf(to, LETTERING_NUMBER, "%.6g", value);
		return;
	}
	snprintf(to, LETTERING_NUMBER, "%.*f", digits, value);
	if (shortest && strchr(to, '.')) {
		size_t length = strlen(to);
		while (to[length - 1] == '0')
			to[--length] = '\0';
		if (to[length - 1] == '.')
			to[--length] = '\0';
	}
	/* no "-0" */
	if (to[0] == '-' && strspn(to + 1, "0.") == strlen(to + 1))
		memmove(to, to + 1, strlen(to));
}

/* A line of the sentence; the last one takes all that is left, shortened. */
static bool
sentence_line(const char **left, int line, char to[static LETTERING_ROOM])
{
	const double width = SHEET_WIDTH - 2 * SHEET_EDGE;

	if (line + 1 < SENTENCE_LINES)
		return lettering_line(&sentence_letters, left, width, to);
	*left += strspn(*left, " ");
	if (**left == '\0')
		return false;
	lettering_fit(&sentence_letters, *left, width, to);
	return true;
}

double
lettering_head_height(const char *sentence)
{
	char line[LETTERING_ROOM];
	int lines = 0;

	while (
	    sentence && lines < SENTENCE_LINES && sentence_line(&sentence, lines, line))
		lines++;
	return 22 + lines * SENTENCE_LINE;
}

void
lettering_head(struct canvas *canvas, struct canvas_point size, const char *heading,
    const char *sentence)
{
	struct canvas_point at = {SHEET_EDGE, 18};
	char line[LETTERING_ROOM];

	canvas_fill(canvas, (struct canvas_box){0, 0, size.x, size.y}, PALETTE_GROUND);
	lettering_fit(&heading_letters, heading, size.x - 2 * SHEET_EDGE, line);
	canvas_text(canvas, at, &heading_letters, line);
	at.y += 1;
	for (int i = 0;
	     sentence && i < SENTENCE_LINES && sentence_line(&sentence, i, line); i++) {
		at.y += SENTENCE_LINE;
		canvas_text(canvas, at, &sentence_letters, line);
	}
}
