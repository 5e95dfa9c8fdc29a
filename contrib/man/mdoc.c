/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/man/mdoc.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

enum { LINE_WIDTH = 78 };

/* Characters that roff would take for something else, or show as something else. */
static void
put_character(FILE *out, char character)
{
	switch (character) {
	case '\\':
		fputs("\\e", out);
		break;
	case '\'':
		fputs("\\(aq", out);
		break;
	case '"':
		fputs("\\(dq", out);
		break;
	case '^':
		fputs("\\(ha", out);
		break;
	case '~':
		fputs("\\(ti", out);
		break;
	case '`':
		fputs("\\(ga", out);
		break;
	default:
		putc(character, out);
	}
}

static void
put_characters(FILE *out, const char *text, size_t length)
{
	for (size_t i = 0; i < length; i++)
		put_character(out, text[i]);
}

/* How long a name of an option at the head of `word` is, dashes included; 0: none. */
static size_t
option_length(const char *word, size_t length)
{
	size_t end = 2;

	if (length < 3 || strncmp(word, "--", 2) != 0 ||
	    !islower((unsigned char)word[2]))
		return 0;
	while (end < length && (islower((unsigned char)word[end]) ||
				   isdigit((unsigned char)word[end]) ||
				   (word[end] == '-' && end + 1 < length &&
				       islower((unsigned char)word[end + 1]))))
		end++;
	return end;
}

static void
put_word(FILE *out, const char *word, size_t length)
{
	size_t opened = strspn(word, "('");
	size_t option;

	if (opened >= length)
		opened = 0;
	put_characters(out, word, opened);
	word += opened;
	length -= opened;
	option = option_length(word, length);
	if (option > 0) {
		fputs("\\fB", out);
		for (size_t i = 0; i < option; i++)
			word[i] == '-' ? (void)fputs("\\-", out)
				       : (void)putc(word[i], out);
		fputs("\\fP", out);
	} else if (length > 0 && word[0] == '-') { /* -1, -p: no hyphen */
		fputs("\\-", out);
		option = 1;
	}
	put_characters(out, word + option, length - option);
}

static bool
ends_sentence(const char *word, size_t length)
{
	while (length > 0 && strchr(")'\"", word[length - 1]))
		length--;
	return length > 1 && strchr(".?!", word[length - 1]) &&
	       word[length - 2] != '.'; /* an ellipsis goes on */
}

/* The word as it stands in the source, to be freed; NULL when memory is short. */
static char *
written(const char *word, size_t length, size_t *written_length)
{
	char *text = NULL;
	FILE *memory = open_memstream(&text, written_length);

	if (!memory)
		return NULL;
	if (word[0] == '.')
		fputs("\\&", memory); /* at the start of a line it would be a macro */
	put_word(memory, word, length);
	if (fclose(memory) != 0) {
		free(text);
		return NULL;
	}
	return text;
}

/* Fills `length` characters of text, from the start of a line to the end of one. */
static void
fill(FILE *out, const char *text, size_t length)
{
	size_t column = 0;
	bool ended = false;

	for (const char *end = text + length; text < end;) {
		size_t word = strcspn(text, " \n"), wide = 0;
		if (word == 0) {
			text++;
			continue;
		}
		char *source = written(text, word, &wide);
		if (column > 0 && (ended || column + 1 + wide > LINE_WIDTH)) {
			putc('\n', out);
			column = 0;
		}
		fprintf(out, "%s%s", column > 0 ? " " : "", source ? source : "");
		column += wide + (column > 0);
		free(source);
		ended = ends_sentence(text, word);
		text += word;
	}
	if (column > 0)
		putc('\n', out);
}

void
mdoc_text(FILE *out, const char *text)
{
	fill(out, text, strlen(text));
}

void
mdoc_sentence(FILE *out, const char *text)
{
	size_t word = strcspn(text, " _0123456789"), length = strlen(text);
	bool stops = length > 0 && strchr(".?!", text[length - 1]);
	char *sentence;

	if (asprintf(&sentence, "%s%s", text, stops ? "" : ".") < 0)
		return;
	/* what is typed as it stands stays small: a name, the first of several words */
	if (word > 0 && text[word - 1] != ',' && text[word - 1] != ';' &&
	    (text[word] == ' ' || text[word] == '\0'))
		sentence[0] = (char)toupper((unsigned char)sentence[0]);
	if (length > 0)
		mdoc_text(out, sentence);
	free(sentence);
}

/* --- help of a terminal --------------------------------------------------------------- */

/* Whether the line speaks of one of the parts: "freeze: keeps copies". */
static bool
is_part(const char *line, const char *parts)
{
	size_t length = 0;

	while (islower((unsigned char)line[length]))
		length++;
	if (length == 0 || line[length] != ':')
		return false;
	for (const char *at = parts; (at = strstr(at, "| ")) != NULL; at += 2)
		if (strncmp(at + 2, line, length) == 0)
			return true;
	return *parts == '[' && strncmp(parts + 1, line, length) == 0;
}

/* Whether a paragraph may begin with the line: a sentence of an option, or of the exit
 * code. */
static bool
is_new_matter(const char *help, const char *line)
{
	return line - help > 2 && line[-2] == '.' &&
	       (option_length(line, strcspn(line, " \n")) > 0 ||
		   strncmp(line, "Exit", 4) == 0);
}

/* A display from `text` on, as far as its lines begin with a blank; its end. */
static const char *
put_display(FILE *out, const char *text)
{
	fputs(".Bd -literal -offset indent\n", out);
	while (*text == ' ') {
		size_t length = strcspn(text, "\n"), indent = strspn(text, " ");
		if (indent > 2)
			indent = 2;
		fputs(text[indent] == '.' ? "\\&" : "", out);
		put_characters(out, text + indent, length - indent);
		putc('\n', out);
		text += length + (text[length] == '\n');
	}
	fputs(".Ed\n", out);
	return text;
}

void
mdoc_help(FILE *out, const char *help, const char *parts)
{
	bool separate = false; /* what comes next begins a paragraph */

	while (*help) {
		const char *end = help;
		if (*help == ' ') {
			help = put_display(out, help);
			separate = true;
			continue;
		}
		if (*help == '\n') {
			help++;
			separate = true;
			continue;
		}
		do {
			end += strcspn(end, "\n");
			end += *end == '\n';
		} while (*end && *end != '\n' && *end != ' ' && !is_part(end, parts) &&
			 !is_new_matter(help, end));
		if (separate)
			fputs(".Pp\n", out);
		fill(out, help, (size_t)(end - help));
		separate = true;
		help = end;
	}
}

void
mdoc_argument(FILE *out, const char *words)
{
	while (*words) {
		size_t length = strcspn(words, " ");
		fputs(" \\&", out);
		put_characters(out, words, length);
		words += length;
		words += strspn(words, " ");
	}
}
