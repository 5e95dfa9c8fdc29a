/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Every table and column of a fresh ledger, as SQLite tells them. */
#include "contrib/man/parts.h"

#include <sqlite3.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "contrib/man/comments.h"
#include "contrib/man/ledger_words.h"
#include "contrib/man/mdoc.h"
#include "daemon/base/error.h"
#include "daemon/ledger/schema.h"

enum { TABLES_MAX = 64, REFERENCE_TEXT = 96 };

struct page {
	FILE *out;
	sqlite3 *db;
	struct error *error;
	char wordless[256]; /* "shot.tool, ring": what nobody has described */
};

static int
refuse(struct page *page)
{
	return error_set(page->error, ERROR_IO, "SQLite: %s", sqlite3_errmsg(page->db));
}

static void
note_wordless(struct page *page, const char *table, const char *column)
{
	size_t length = strlen(page->wordless);

	snprintf(page->wordless + length, sizeof page->wordless - length, "%s%s%s%s",
	    length > 0 ? ", " : "", table, *column ? "." : "", column);
}

/* --- columns -------------------------------------------------------------------------------- */

static const char *
type_words(const char *type)
{
	static const struct {
		const char *type, *words;
	} spelled[] = {
	    {"INTEGER", "whole number"},
	    {"REAL", "number"},
	    {"TEXT", "text"},
	    {"BLOB", "bytes"},
	};

	for (size_t i = 0; i < sizeof spelled / sizeof spelled[0]; i++)
		if (strcmp(spelled[i].type, type) == 0)
			return spelled[i].words;
	return type;
}

/* "line.id", which the column refers to; "" for none. */
static int
find_reference(struct page *page, const char *table, const char *column,
    char reference[static REFERENCE_TEXT])
{
	sqlite3_stmt *statement;
	int code = sqlite3_prepare_v2(page->db,
	    "SELECT \"table\" || '.' || \"to\" FROM pragma_foreign_key_list(?) "
	    "WHERE \"from\" = ?",
	    -1, &statement, NULL);

	reference[0] = '\0';
	if (code != SQLITE_OK)
		return refuse(page);
	sqlite3_bind_text(statement, 1, table, -1, SQLITE_STATIC);
	sqlite3_bind_text(statement, 2, column, -1, SQLITE_STATIC);
	if (sqlite3_step(statement) == SQLITE_ROW)
		snprintf(reference, REFERENCE_TEXT, "%s",
		    (const char *)sqlite3_column_text(statement, 0));
	return sqlite3_finalize(statement) == SQLITE_OK ? 0 : refuse(page);
}

/* The comment in the SQL, from the step that added the column where it came later. */
static const char *
column_comment(const char *table, const char *column, const struct comments *comments)
{
	static char text[COMMENTS_TEXT];

	for (int i = 0; i < schema_steps.count; i++)
		if (comments_added(schema_steps.list[i].sql, table, column, text))
			return text;
	return comments_of(comments, column);
}

/* The page's own words, else the comment, else what the name says anywhere; NULL: nothing. */
static const char *
column_words(const char *table, const char *column, const struct comments *comments)
{
	const char *words = ledger_words(table, column);

	if (!words && *column_comment(table, column, comments))
		words = column_comment(table, column, comments);
	return words ? words : ledger_words("", column);
}

/* A sentence; where lines follow it, each is a value and what it means. */
static void
put_column_words(FILE *out, const char *words)
{
	const char *line = strchr(words, '\n');
	char text[COMMENTS_TEXT];

	snprintf(text, sizeof text, "%.*s",
	    line ? (int)(line - words) : (int)strlen(words), words);
	mdoc_sentence(out, text);
	if (!line)
		return;
	fputs(".Pp\n.Bl -tag -width timer_release -compact\n", out);
	while (line) {
		size_t value = strcspn(++line, " ");
		fprintf(out, ".It Cm %.*s\n", (int)value, line);
		words = line + value + 1;
		line = strchr(words, '\n');
		snprintf(text, sizeof text, "%.*s",
		    line ? (int)(line - words) : (int)strlen(words), words);
		mdoc_text(out, text);
	}
	fputs(".El\n", out);
}

static int
put_column(struct page *page, const char *table, const struct comments *comments,
    sqlite3_stmt *info)
{
	const char *name = (const char *)sqlite3_column_text(info, 0);
	const char *type = (const char *)sqlite3_column_text(info, 1);
	const char *words = column_words(table, name, comments);
	bool sure = sqlite3_column_int(info, 2) || sqlite3_column_int(info, 3) ||
	            sqlite3_column_int(info, 4);
	char reference[REFERENCE_TEXT];
	int code = find_reference(page, table, name, reference);

	if (!words && !*reference)
		note_wordless(page, table, name);
	fprintf(page->out, ".It Ic %s Pq", name);
	mdoc_argument(page->out, type_words(type));
	mdoc_argument(page->out, sure ? "" : "or NULL");
	fputs("\n", page->out);
	if (words)
		put_column_words(page->out, words);
	if (*reference)
		fprintf(page->out, "Refers to\n.Ic %s .\n", reference);
	return code;
}

static const char *
table_words(const char *table, const struct comments *comments)
{
	const char *words = ledger_words(table, "");

	return words || !*comments->table ? words : comments->table;
}

static int
put_table(struct page *page, const char *table, const char *sql)
{
	static struct comments comments;
	const char *words;
	sqlite3_stmt *info;
	int code = 0;

	comments_read(sql, &comments);
	words = table_words(table, &comments);
	if (!words)
		note_wordless(page, table, "");
	fprintf(page->out, ".Ss %s\n", table);
	mdoc_sentence(page->out, words ? words : "");
	if (sqlite3_prepare_v2(page->db,
		"SELECT name, type, \"notnull\", pk, hidden FROM pragma_table_xinfo(?)",
		-1, &info, NULL) != SQLITE_OK)
		return refuse(page);
	sqlite3_bind_text(info, 1, table, -1, SQLITE_STATIC);
	fputs(".Bl -tag -width Ds\n", page->out);
	while (code == 0 && sqlite3_step(info) == SQLITE_ROW)
		code = put_column(page, table, &comments, info);
	fputs(".El\n", page->out);
	if (sqlite3_finalize(info) != SQLITE_OK && code == 0)
		code = refuse(page);
	return code;
}

/* --- tables --------------------------------------------------------------------------------- */

struct table {
	char *name, *sql;
};

static int
compare_tables(const void *a, const void *b)
{
	const struct table *one = a, *other = b;
	int one_place = ledger_words_place(one->name);
	int other_place = ledger_words_place(other->name);

	return one_place != other_place ? one_place - other_place
	                                : strcmp(one->name, other->name);
}

static int
list_tables(struct page *page, struct table list[static TABLES_MAX], int *count)
{
	sqlite3_stmt *statement;

	*count = 0;
	if (sqlite3_prepare_v2(page->db,
		"SELECT name, sql FROM sqlite_schema WHERE type = 'table'", -1,
		&statement, NULL) != SQLITE_OK)
		return refuse(page);
	while (sqlite3_step(statement) == SQLITE_ROW && *count < TABLES_MAX) {
		list[*count].name =
		    strdup((const char *)sqlite3_column_text(statement, 0));
		list[*count].sql =
		    strdup((const char *)sqlite3_column_text(statement, 1));
		++*count;
	}
	if (sqlite3_finalize(statement) != SQLITE_OK)
		return refuse(page);
	qsort(list, (size_t)*count, sizeof list[0], compare_tables);
	return 0;
}

/* Each with what it is, to choose from. */
static void
put_overview(FILE *out, const struct table *list, int count)
{
	static struct comments comments;

	fputs(".Pp\n.Bl -tag -width reference_shot -compact\n", out);
	for (int i = 0; i < count; i++) {
		const char *words;

		comments_read(list[i].sql, &comments);
		words = table_words(list[i].name, &comments);
		fprintf(out, ".It Ic %s\n", list[i].name);
		mdoc_text(out, words ? words : "");
	}
	fputs(".El\n", out);
}

static int
put_tables(struct page *page)
{
	struct table list[TABLES_MAX];
	int count, code = list_tables(page, list, &count);

	if (code == 0)
		put_overview(page->out, list, count);
	for (int i = 0; i < count; i++) {
		if (code == 0)
			code = put_table(page, list[i].name, list[i].sql);
		free(list[i].name);
		free(list[i].sql);
	}
	if (code == 0 && *page->wordless)
		return error_set(page->error, ERROR_INVALID,
		    "nothing says what in the ledger is %s: write a comment behind it "
		    "in "
		    "daemon/ledger/schema_steps.c, or, where that step is released, a "
		    "row "
		    "in contrib/man/ledger_words.c",
		    page->wordless);
	return code;
}

int
part_ledger_tables(FILE *out, const char *argument, struct error *error)
{
	struct page page = {.out = out, .error = error};
	int code;

	(void)argument;
	if (sqlite3_open(":memory:", &page.db) != SQLITE_OK)
		code = refuse(&page);
	else
		code = schema_upgrade(page.db, "a fresh ledger", &schema_steps, error);
	if (code == 0)
		code = put_tables(&page);
	sqlite3_close(page.db);
	return code;
}
