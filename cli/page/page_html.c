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
#include "cli/page/html.h"
#include "cli/page/html_style.h"
#include "cli/picture/picture.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum {
	WORDS_MAX_BYTES = 1 << 20,
	HEADING_LOWEST = 6,
	TITLE_MOST = 160, /* characters */
};

struct html {
	FILE *out, *body;
	char *bytes; /* of the body */
	size_t length;
	size_t contents_at; /* in the body, where `begun` */
	bool begun;         /* more than the title and sentences is there */
	bool failed, in_fields;
	int level; /* of headings that are open */
	int depth;
	bool headed[WRITER_DEPTH]; /* the group has a section of its own */
	struct table table;
	size_t tables, pictures;
	struct text
	    name; /* of the page: its title, else its first sentence or heading */
	struct text words; /* for one value */
	struct html_contents contents;
};

/* --- sections ------------------------------------------------------------------------ */

static void
end_fields(struct html *html)
{
	if (html->in_fields)
		fputs("</dl>\n", html->body);
	html->in_fields = false;
}

/* The first words that say what the page is of. */
static void
name_page(struct html *html, const char *words)
{
	if (html->name.length == 0)
		text_puts(&html->name, words);
}

/* The list of contents stands before what comes now. */
static void
begin_rest(struct html *html)
{
	if (!html->begun)
		html->contents_at = (size_t)ftell(html->body);
	html->begun = true;
}

static void
put_heading(struct html *html, const char *heading)
{
	int level = html->level < HEADING_LOWEST ? html->level : HEADING_LOWEST;

	name_page(html, heading);
	html_contents_add(&html->contents, html->level, heading);
	fprintf(html->body, "<h%d id=\"s%zu\">", level, html->contents.count);
	html_put_escaped(html->body, heading);
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
	if (ftell(html->body) > 0)
		begin_rest(html);
	html->level++;
	fprintf(html->body, "<section aria-labelledby=\"s%zu\">\n",
	    html->contents.count + 1);
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
	name_page(html, sentence);
	html_put_element(html->body, "p", tone, sentence);
	fputc('\n', html->body);
}

/* The name of a value, and what begins it. */
static void
begin_field(struct html *html, const char *label, enum page_tone tone)
{
	const char *class = html_class(tone);

	begin_rest(html);
	if (!html->in_fields)
		fputs("<dl>\n", html->body);
	html->in_fields = true;
	fputs("<div>", html->body);
	html_put_element(html->body, "dt", TONE_PLAIN, label);
	if (class)
		fprintf(html->body, "<dd class=\"%s\">", class);
	else
		fputs("<dd>", html->body);
}

static void
end_field(struct html *html)
{
	fputs("</dd></div>\n", html->body);
}

static void
put_value(struct html *html, const struct cell *cell)
{
	text_clear(&html->words);
	cell_add_shown(&html->words, cell);
	html_put_escaped(html->body, html->words.bytes ? html->words.bytes : "");
}

static void
html_field(void *state, const char *key, const char *label, const struct cell *cell)
{
	struct html *html = state;

	(void)key;
	if (!label)
		return;
	begin_field(html, label, cell->tone);
	put_value(html, cell);
	end_field(html);
}

/* A line ends between values rather than within one. */
static void
html_list(void *state, const char *key, const char *label, const struct cell *cells,
    size_t count)
{
	struct html *html = state;
	const struct cell none = cell_absent(NULL);

	if (count == 0)
		html_field(state, key, label, &none);
	if (!label || count == 0)
		return;
	begin_field(html, label, TONE_PLAIN);
	for (size_t i = 0; i < count; i++) {
		fputs(i > 0 ? " <span>" : "<span>", html->body);
		put_value(html, &cells[i]);
		fputs(i + 1 < count ? ",</span>" : "</span>", html->body);
	}
	end_field(html);
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
html_table_end(void *state)
{
	struct html *html = state;

	if (!table_end(&html->table))
		return;
	end_fields(html);
	begin_rest(html);
	html_put_table(html->body, &html->table, &html->tables);
}

/* --- pictures --------------------------------------------------------------------------- */

/* On a narrow screen the words over the drawing are words of the page, and the drawing begins
 * below its own. */
static void
put_head(struct html *html, const struct picture *picture)
{
	fputs("<div class=\"head\" aria-hidden=\"true\">", html->body);
	html_put_element(html->body, "p", TONE_STRONG, picture->heading);
	if (picture->sentence)
		html_put_element(html->body, "p", TONE_PLAIN, picture->sentence);
	fputs("</div>\n", html->body);
}

/* Those without a section are of what stands before the contents. */
static void
html_picture(void *state, const struct picture *picture, const char *caption)
{
	struct html *html = state;
	char id[32];

	end_fields(html);
	snprintf(id, sizeof id, "p%zu", ++html->pictures);
	fputs("<figure>\n", html->body);
	if (picture->heading)
		put_head(html, picture);
	fprintf(html->body, "<div class=\"drawing%s\" tabindex=\"0\"",
	    picture->in_time ? " recent" : "");
	if (picture->heading)
		fprintf(html->body, " style=\"--head:%.4f\"",
		    picture->head / picture->size.x);
	fputs(">\n", html->body);
	if (picture_write_part(picture, id, html->body) != 0)
		html->failed = true;
	fputs("</div>\n", html->body);
	if (caption)
		html_put_element(html->body, "figcaption", TONE_PLAIN, caption);
	fputs("</figure>\n", html->body);
}

/* --- the whole ---------------------------------------------------------------------------- */

/* What tells the page from others, and the program. */
static void
put_name(const struct html *html)
{
	char cut[4 * TITLE_MOST + 1];
	const char *next = html->name.bytes;
	size_t length = 0;

	if (html->name.length == 0) {
		fputs("evensoak", html->out);
		return;
	}
	for (int i = 0; i < TITLE_MOST && utf8_next(&next) != 0; i++)
		length = (size_t)(next - html->name.bytes);
	length = length < sizeof cut ? length : sizeof cut - 1;
	memcpy(cut, html->name.bytes, length);
	cut[length] = '\0';
	html_put_escaped(html->out, cut);
	if (html->name.bytes[length])
		fputs("\xe2\x80\xa6", html->out); /* U+2026 */
	fputs(" - evensoak", html->out);
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
	put_name(html);
	fprintf(html->out, "</title>\n<style>%s%s</style>\n</head>\n<body>\n<main>\n",
	    html_style, html_style_paper);
	fwrite(html->bytes, 1, html->contents_at, html->out);
	html_contents_put(&html->contents, html->out);
	fwrite(html->bytes + html->contents_at, 1, html->length - html->contents_at,
	    html->out);
	fputs("</main>\n</body>\n</html>\n", html->out);
}

static int
html_end(void *state)
{
	struct html *html = state;

	end_fields(html);
	bool failed = html->failed || html->words.failed || html->name.failed ||
	              html->contents.failed || html->table.grid.failed ||
	              ferror(html->body);
	failed |= fclose(html->body) != 0;
	if (!failed)
		put_document(html);
	table_release(&html->table);
	text_release(&html->words);
	text_release(&html->name);
	html_contents_release(&html->contents);
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
	text_init(&html->name, WORDS_MAX_BYTES);
	html_contents_init(&html->contents);
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
