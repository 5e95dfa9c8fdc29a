/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * HTML (the WHATWG's living standard, and well-formed XML too): one file, no scripts,
 * nothing fetched.  Headings, tables with captions and scopes, lists of fields and
 * pictures with their words are for those who hear a page, too.
 *
 * The body is kept until the end, since a list of contents stands before it.
 */
#include "cli/page/writer.h"

#include <stdlib.h>
#include <string.h>

#include "cli/page/cell.h"
#include "cli/page/html_style.h"
#include "cli/page/table.h"
#include "cli/picture/picture.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum {
	WORDS_MAX_BYTES = 1 << 20,
	HEADING_LOWEST = 6,
	CONTENTS_LEAST = 5, /* headings: fewer are seen at once */
	LONG_WORDS = 28,    /* characters: wider columns are wrapped */
};

struct entry {
	int level;
	size_t at; /* of its NUL-terminated heading */
};

struct html {
	FILE *out, *body;
	char *bytes; /* of the body */
	size_t length;
	size_t contents_at; /* in the body; 0: not yet */
	bool failed, in_fields;
	int level; /* of headings that are open */
	int depth;
	bool headed[WRITER_DEPTH]; /* the group has a section of its own */
	struct table table;
	size_t tables, pictures;
	struct text words; /* for one value */
	struct text headings;
	struct entry *entries;
	size_t entry_count, entry_room;
};

/* --- words ------------------------------------------------------------------------- */

static bool
is_no_character(uint32_t point)
{
	return (point < 0x20 && point != '\t' && point != '\n') ||
	       (point >= 0x7f && point < 0xa0) || (point & 0xfffe) == 0xfffe ||
	       (point >= 0xfdd0 && point <= 0xfdef) || point == 0xfffd;
}

static void
put_escaped(FILE *out, const char *words)
{
	const char *from = words;
	uint32_t point;

	while ((point = utf8_next(&words)) != 0) {
		if (point == '&')
			fputs("&amp;", out);
		else if (point == '<')
			fputs("&lt;", out);
		else if (point == '>')
			fputs("&gt;", out);
		else if (point == '"')
			fputs("&quot;", out);
		else if (point == '\'')
			fputs("&#39;", out);
		else if (is_no_character(point))
			fputs("\xef\xbf\xbd", out); /* U+FFFD */
		else
			fwrite(from, 1, (size_t)(words - from), out);
		from = words;
	}
}

/* NULL: none. */
static const char *
tone_class(enum page_tone tone)
{
	switch (tone) {
	case TONE_PLAIN:
		return NULL;
	case TONE_STRONG:
		return "strong";
	case TONE_GOOD:
		return "good";
	case TONE_BAD:
		return "bad";
	case TONE_FAINT:
		return "faint";
	}
	return NULL;
}

/* An element of words with a class, where there is one. */
static void
put_element(
    struct html *html, const char *element, enum page_tone tone, const char *words)
{
	const char *class = tone_class(tone);

	fprintf(html->body, "<%s", element);
	if (class)
		fprintf(html->body, " class=\"%s\"", class);
	fputc('>', html->body);
	put_escaped(html->body, words);
	fprintf(html->body, "</%s>", element);
}

/* --- sections ------------------------------------------------------------------------ */

static void
end_fields(struct html *html)
{
	if (html->in_fields)
		fputs("</dl>\n", html->body);
	html->in_fields = false;
}

static void
add_entry(struct html *html, const char *heading)
{
	if (html->entry_count == html->entry_room) {
		size_t room = html->entry_room ? html->entry_room * 2 : 32;
		struct entry *entries =
		    reallocarray(html->entries, room, sizeof *entries);
		if (!entries) {
			html->failed = true;
			return;
		}
		html->entries = entries;
		html->entry_room = room;
	}
	html->entries[html->entry_count++] =
	    (struct entry){html->level, html->headings.length};
	text_add(&html->headings, heading, strlen(heading) + 1);
}

static void
put_heading(struct html *html, const char *heading)
{
	int level = html->level < HEADING_LOWEST ? html->level : HEADING_LOWEST;

	add_entry(html, heading);
	fprintf(html->body, "<h%d id=\"s%zu\">", level, html->entry_count);
	put_escaped(html->body, heading);
	fprintf(html->body, "</h%d>\n", level);
}

static void
html_title(void *state, const char *title)
{
	struct html *html = state;

	html->level++;
	put_heading(html, title);
}

static void
html_open(void *state, enum page_group group, const char *key, const char *heading)
{
	struct html *html = state;

	(void)group, (void)key;
	end_fields(html);
	if (html->depth < WRITER_DEPTH)
		html->headed[html->depth] = heading;
	html->depth++;
	if (!heading)
		return;
	if (html->entry_count == 1)
		html->contents_at = (size_t)ftell(html->body);
	html->level++;
	fprintf(
	    html->body, "<section aria-labelledby=\"s%zu\">\n", html->entry_count + 1);
	put_heading(html, heading);
}

static void
html_close(void *state)
{
	struct html *html = state;

	end_fields(html);
	html->depth--;
	if (html->depth >= WRITER_DEPTH || !html->headed[html->depth])
		return;
	html->level--;
	fputs("</section>\n", html->body);
}

static void
html_note(void *state, const char *key, enum page_tone tone, const char *sentence)
{
	struct html *html = state;

	(void)key;
	end_fields(html);
	put_element(html, "p", tone, sentence);
	fputc('\n', html->body);
}

static void
put_field(struct html *html, const char *label, enum page_tone tone, const char *words)
{
	if (!html->in_fields)
		fputs("<dl>\n", html->body);
	html->in_fields = true;
	fputs("<div>", html->body);
	put_element(html, "dt", TONE_PLAIN, label);
	put_element(html, "dd", tone, words ? words : "");
	fputs("</div>\n", html->body);
}

static void
html_field(void *state, const char *key, const char *label, const struct cell *cell)
{
	struct html *html = state;

	(void)key;
	if (!label)
		return;
	text_clear(&html->words);
	cell_add_shown(&html->words, cell);
	put_field(html, label, cell->tone, html->words.bytes);
}

static void
html_list(void *state, const char *key, const char *label, const struct cell *cells,
    size_t count)
{
	struct html *html = state;

	(void)key;
	if (!label)
		return;
	text_clear(&html->words);
	cell_add_list(&html->words, cells, count);
	put_field(html, label, count > 0 ? cells[0].tone : TONE_FAINT,
	    count > 0 ? html->words.bytes : "-");
}

/* --- tables --------------------------------------------------------------------------- */

static void
html_table(void *state, const char *key, const char *heading,
    const struct column *columns, size_t count)
{
	struct html *html = state;

	(void)key;
	table_start(&html->table, heading, columns, count);
}

static void
html_row(void *state, const struct cell *cells)
{
	struct html *html = state;

	table_row(&html->table, cells);
}

static void
html_across(void *state, enum page_tone tone, const char *sentence)
{
	struct html *html = state;

	table_across(&html->table, tone, sentence);
}

static void
put_cell(struct html *html, size_t row, size_t column, const char *scope)
{
	const struct grid *grid = &html->table.grid;
	const struct grid_column *traits = &grid->columns[column];
	const char *words = grid_words(grid, row, column);
	const char *tone =
	    tone_class(grid->cells[row * grid->column_count + column].tone);
	const char *kind = traits->right                ? "n"
	                   : traits->width > LONG_WORDS ? "w"
	                                                : NULL;
	const char *element = scope && *words ? "th" : "td";

	if (row == 0)
		tone = NULL; /* all titles look alike */
	fprintf(html->body, "<%s", element);
	if (scope && *words)
		fprintf(html->body, " scope=\"%s\"", scope);
	if (tone || kind)
		fprintf(html->body, " class=\"%s%s%s\"", kind ? kind : "",
		    kind && tone ? " " : "", tone ? tone : "");
	fputc('>', html->body);
	put_escaped(html->body, words);
	fprintf(html->body, "</%s>", element);
}

static void
put_across(struct html *html, size_t row, int block)
{
	const struct grid *grid = &html->table.grid;
	const char *tone = tone_class(grid->cells[row * grid->column_count].tone);
	int count = 0;

	for (size_t c = 0; c < grid->column_count; c++)
		count += grid_is_put(grid, c, block);
	fprintf(html->body, "<tr class=\"across\"><td colspan=\"%d\"", count);
	if (tone)
		fprintf(html->body, " class=\"%s\"", tone);
	fputc('>', html->body);
	put_escaped(html->body, grid_words(grid, row, 0));
	fputs("</td></tr>\n", html->body);
}

static void
put_row(struct html *html, size_t row, int block)
{
	const struct grid *grid = &html->table.grid;
	const char *scope = row == 0 ? "col" : "row"; /* of the first cell */

	if (grid->cells[row * grid->column_count].across) {
		put_across(html, row, block);
		return;
	}
	fputs("<tr>", html->body);
	for (size_t c = 0; c < grid->column_count; c++) {
		if (!grid_is_put(grid, c, block))
			continue;
		put_cell(html, row, c, scope);
		if (row > 0)
			scope = NULL;
	}
	fputs("</tr>\n", html->body);
}

/* A table that is wider than the window is scrolled, by the keyboard too. */
static void
begin_table(struct html *html, int block)
{
	const char *heading = html->table.heading;

	html->tables++;
	if (!heading) {
		fputs("<div class=\"table\" tabindex=\"0\"><table>\n", html->body);
		return;
	}
	fprintf(html->body,
	    "<div class=\"table\" role=\"region\" tabindex=\"0\" "
	    "aria-labelledby=\"t%zu\"><table>\n<caption id=\"t%zu\">",
	    html->tables, html->tables);
	put_escaped(html->body, heading);
	fputs(block > 0 ? ", continued</caption>\n" : "</caption>\n", html->body);
}

static bool
has_columns(const struct grid *grid, int block)
{
	for (size_t c = 0; c < grid->column_count; c++)
		if (grid->columns[c].shown && grid->columns[c].block == block)
			return true;
	return false;
}

static void
put_block(struct html *html, int block)
{
	const struct grid *grid = &html->table.grid;

	if (!has_columns(grid, block))
		return;
	begin_table(html, block);
	fputs("<thead>", html->body);
	put_row(html, 0, block);
	fputs("</thead>\n<tbody>\n", html->body);
	for (size_t row = 1; row < grid_rows(grid); row++)
		if (grid_is_row_put(grid, row, block))
			put_row(html, row, block);
	fputs("</tbody></table></div>\n", html->body);
}

static void
html_table_end(void *state)
{
	struct html *html = state;
	const struct grid *grid = &html->table.grid;
	int last = 0;

	if (!table_end(&html->table))
		return;
	end_fields(html);
	for (size_t c = 0; c < grid->column_count; c++)
		if (grid->columns[c].block > last)
			last = grid->columns[c].block;
	for (int block = 0; block <= last; block++)
		put_block(html, block);
}

/* --- pictures --------------------------------------------------------------------------- */

static void
html_picture(void *state, const struct picture *picture, const char *caption)
{
	struct html *html = state;
	char id[32];

	end_fields(html);
	snprintf(id, sizeof id, "p%zu", ++html->pictures);
	fputs("<figure><div class=\"drawing\" tabindex=\"0\">\n", html->body);
	if (picture_write_part(picture, id, html->body) != 0)
		html->failed = true;
	fputs("</div>\n", html->body);
	if (caption)
		put_element(html, "figcaption", TONE_PLAIN, caption);
	fputs("</figure>\n", html->body);
}

/* --- the whole ---------------------------------------------------------------------------- */

static void
put_entry(const struct html *html, size_t i)
{
	fprintf(html->out, "<li><a href=\"#s%zu\">", i + 1);
	put_escaped(html->out, html->headings.bytes + html->entries[i].at);
	fputs("</a>", html->out);
}

/* The highest level that has more than one heading: those above it are titles. */
static int
contents_level(const struct html *html)
{
	size_t top = 0;

	for (size_t i = 0; i < html->entry_count; i++)
		top += html->entries[i].level == 1;
	return top > 1 ? 1 : 2;
}

static void
put_contents(const struct html *html)
{
	const int level = contents_level(html);
	bool begun = false, below = false;
	size_t count = 0;

	for (size_t i = 0; i < html->entry_count; i++)
		count += html->entries[i].level == level ||
		         html->entries[i].level == level + 1;
	if (count < CONTENTS_LEAST)
		return;
	fputs("<nav aria-labelledby=\"contents\"><p id=\"contents\">On this page</p>\n"
	      "<ul>\n",
	    html->out);
	for (size_t i = 0; i < html->entry_count; i++) {
		int under = html->entries[i].level - level;
		if (under != 0 && (under != 1 || !begun))
			continue;
		if (under == 0 && below)
			fputs("</li></ul>", html->out);
		if (under == 1 && !below)
			fputs("\n<ul>\n", html->out);
		else if (begun)
			fputs("</li>\n", html->out);
		begun = true;
		below = under == 1;
		put_entry(html, i);
	}
	fputs(below ? "</li></ul></li>\n</ul></nav>\n" : "</li>\n</ul></nav>\n",
	    html->out);
}

static void
put_document(const struct html *html)
{
	fputs("<!DOCTYPE html>\n"
	      "<html lang=\"en\" xmlns=\"http://www.w3.org/1999/xhtml\">\n<head>\n"
	      "<meta charset=\"utf-8\"/>\n"
	      "<meta name=\"viewport\" content=\"width=device-width, "
	      "initial-scale=1\"/>\n"
	      "<meta name=\"color-scheme\" content=\"light\"/>\n"
	      "<link rel=\"icon\" href=\"data:,\"/>\n<title>",
	    html->out);
	put_escaped(
	    html->out, html->entry_count > 0 ? html->headings.bytes : "evensoak");
	fprintf(html->out, "</title>\n<style>%s</style>\n</head>\n<body>\n<main>\n",
	    html_style);
	fwrite(html->bytes, 1, html->contents_at, html->out);
	put_contents(html);
	fwrite(html->bytes + html->contents_at, 1, html->length - html->contents_at,
	    html->out);
	fputs("</main>\n</body>\n</html>\n", html->out);
}

static int
html_end(void *state)
{
	struct html *html = state;

	end_fields(html);
	bool failed = html->failed || html->words.failed || html->headings.failed ||
	              html->table.grid.failed || ferror(html->body);
	failed |= fclose(html->body) != 0;
	if (!failed)
		put_document(html);
	table_release(&html->table);
	text_release(&html->words);
	text_release(&html->headings);
	free(html->entries);
	free(html->bytes);
	free(html);
	return failed ? ERROR_MEMORY : 0;
}

void *
page_html_new(FILE *out)
{
	struct html *html = calloc(1, sizeof *html);

	if (!html)
		return NULL;
	html->out = out;
	html->body = open_memstream(&html->bytes, &html->length);
	if (!html->body) {
		free(html);
		return NULL;
	}
	table_init(&html->table);
	text_init(&html->words, WORDS_MAX_BYTES);
	text_init(&html->headings, WORDS_MAX_BYTES);
	return html;
}

const struct writer page_html_writer = {
    .title = html_title,
    .open = html_open,
    .close = html_close,
    .note = html_note,
    .field = html_field,
    .table = html_table,
    .row = html_row,
    .across = html_across,
    .table_end = html_table_end,
    .list = html_list,
    .picture = html_picture,
    .end = html_end,
};
