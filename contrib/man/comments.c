/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/man/comments.h"

#include <ctype.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>

/* Adds the words of a comment to those that are there, a blank between any two. */
static void
add_words(char text[static COMMENTS_TEXT], const char *from, const char *to)
{
	size_t length = strlen(text);

	while (from < to) {
		size_t word = 0;
		while (from + word < to && !isspace((unsigned char)from[word]))
			word++;
		if (word > 0 && length + word + 2 < COMMENTS_TEXT)
			length +=
			    (size_t)snprintf(text + length, COMMENTS_TEXT - length,
				"%s%.*s", length > 0 ? " " : "", (int)word, from);
		from += word + 1;
	}
}

/* Behind the comment at `sql`; NULL: there is none. */
static const char *
comment_end(const char *sql, const char **from, const char **to)
{
	bool block = strncmp(sql, "/*", 2) == 0;
	const char *end;

	if (!block && strncmp(sql, "--", 2) != 0)
		return NULL;
	*from = sql + 2;
	end = block ? strstr(*from, "*/") : strchr(*from, '\n');
	*to = end ? end : sql + strlen(sql);
	return end ? end + (block ? 2 : 1) : *to;
}

/* A definition's first word: a column, or a constraint, which begins with a capital. */
static const char *
begin(struct comments *comments, const char *sql, char **words)
{
	size_t length = 0;

	while (isalnum((unsigned char)sql[length]) || sql[length] == '_')
		length++;
	*words = NULL;
	if (!isupper((unsigned char)*sql) && comments->count < COMMENTS_COLUMNS) {
		snprintf(comments->column[comments->count].name, COMMENTS_NAME, "%.*s",
		    (int)length, sql);
		*words = comments->column[comments->count++].text;
	}
	return sql + length;
}

void
comments_read(const char *sql, struct comments *comments)
{
	char *words = comments->table;
	bool expects = true; /* the first word of a definition */
	int depth = 1;

	memset(comments, 0, sizeof *comments);
	sql += strcspn(sql, "(");
	for (sql += *sql == '('; *sql && depth > 0;) {
		const char *from, *to, *end = comment_end(sql, &from, &to);
		if (end) {
			if (words)
				add_words(words, from, to);
			sql = end;
			continue;
		}
		if (expects && (isalpha((unsigned char)*sql) || *sql == '_')) {
			sql = begin(comments, sql, &words);
			expects = false;
			continue;
		}
		depth += (*sql == '(') - (*sql == ')');
		expects |= *sql == ',' && depth == 1;
		sql++;
	}
}

const char *
comments_of(const struct comments *comments, const char *column)
{
	for (int i = 0; i < comments->count; i++)
		if (strcmp(comments->column[i].name, column) == 0)
			return comments->column[i].text;
	return "";
}

bool
comments_added(const char *sql, const char *table, const char *column,
    char text[static COMMENTS_TEXT])
{
	char begins[160];
	size_t length = (size_t)snprintf(
	    begins, sizeof begins, "ALTER TABLE %s ADD COLUMN %s ", table, column);

	text[0] = '\0';
	if (length >= sizeof begins || strncmp(sql, begins, length) != 0)
		return false;
	for (sql += length; *sql;) {
		const char *from, *to, *end = comment_end(sql, &from, &to);
		if (end)
			add_words(text, from, to);
		sql = end ? end : sql + 1;
	}
	return true;
}
