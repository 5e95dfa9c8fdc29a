/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The comments that stand in a CREATE TABLE, each with the column it speaks of: the one
 * whose definition was begun last.  What stands before the first speaks of the table.
 * Pure.
 */
#ifndef CONTRIB_MAN_COMMENTS_H
#define CONTRIB_MAN_COMMENTS_H

#include <stdbool.h>

enum { COMMENTS_COLUMNS = 64, COMMENTS_NAME = 48, COMMENTS_TEXT = 768 };

struct comments {
	char table[COMMENTS_TEXT]; /* "" for none; lines are joined by blanks */
	int count;
	struct {
		char name[COMMENTS_NAME];
		char text[COMMENTS_TEXT];
	} column[COMMENTS_COLUMNS];
};

void comments_read(const char *sql, struct comments *comments);

/* "" for none, and for a column that is not there. */
const char *comments_of(const struct comments *comments, const char *column);

/* Whether the SQL is an ALTER TABLE that adds the column; then its own comment.  SQLite files
 * it in the midst of the CREATE TABLE, before the comment of the column that was the last. */
bool comments_added(const char *sql, const char *table, const char *column,
    char text[static COMMENTS_TEXT]);

#endif
