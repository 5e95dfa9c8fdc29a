/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The lexical side of a configuration: a text into sections and their entries.
 *
 * inih reads the names and values.  What it drops, cuts or lets pass without a
 * word (empty sections, long section names, ':' for '=', text after a ']',
 * lines without '=', bytes that are no text) is seen by a pass of our own.
 * For one thread at a time: inih has globals.
 */
#ifndef CONF_READER_H
#define CONF_READER_H

#include <stdbool.h>
#include <stddef.h>

struct error;
struct mistakes;

enum {
	READER_BYTES = 4 << 20, /* of a file, at most */
	READER_LINE = 1000,     /* bytes of a line, at most */
	READER_SECTIONS = 8192, /* at most */
	READER_ENTRIES = 256,   /* of a section, at most; more is refused unread */
};

struct entry {
	int line;
	char *name, *value; /* without blanks around them */
	bool bad;           /* a mistake is noted already; the value means nothing */
};

struct section {
	int line;
	char *kind, *name; /* [kind name]; name "" when there is none; both "" for [],
	                      which is noted already */
	char *title;       /* "[kind name]", for messages */
	struct entry *entries; /* in the order of their lines */
	size_t entry_count;
	bool overfull; /* noted already */
};

struct document {
	struct section *sections; /* in the order of their lines */
	size_t section_count;
};

/* The whole file, NUL-terminated (the caller frees it), or NULL with a mistake: not
 * there, a directory, too long, or bytes that are no text. */
char *reader_load(const char *path, struct mistakes *mistakes);

/* Fills `document` (document_release); false when it could not, with a mistake noted.
 * Mistakes within lines are noted and leave it true. */
bool document_read(
    struct document *document, const char *text, struct mistakes *mistakes);
void document_release(struct document *document);

/* The first entry of that name, or NULL. */
struct entry *section_entry(const struct section *section, const char *name);

#endif
