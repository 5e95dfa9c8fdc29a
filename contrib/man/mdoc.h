/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Plain words as the source of a manual page: whatever stands in a table comes out as it
 * is read there, escaped, a sentence a line, no line longer than a terminal's.
 *
 * What cannot be written shows in ferror(out); memory is never short while a page is made.
 * One thread.
 */
#ifndef CONTRIB_MAN_MDOC_H
#define CONTRIB_MAN_MDOC_H

#include <stddef.h>
#include <stdio.h>

/* Sentences, filled; options (--name) and $VARIABLES are set apart. */
void mdoc_text(FILE *out, const char *text);

/* The same with a capital at the head, unless a name or a list of words stands there, and a
 * full stop at the end, where it has none. */
void mdoc_sentence(FILE *out, const char *text);

/* Help as it is printed on a terminal: an empty line parts paragraphs, lines that begin
 * with a blank are shown as they stand, a line that begins with one of the words of
 * `parts` ("freeze NAME | show RUN") and a colon begins a paragraph about that, and so does
 * a sentence that begins a line with an option or the exit code. */
void mdoc_help(FILE *out, const char *help, const char *parts);

/* Arguments of a macro, each word by itself, on the line that has been begun. */
void mdoc_argument(FILE *out, const char *words);

#endif
