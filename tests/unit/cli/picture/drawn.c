/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/picture/drawn.h"

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

enum { TEXTS_MOST = 5000 };
static char *svg;
static size_t svg_length;
static struct canvas_point sheet;
static struct drawn_text texts[TEXTS_MOST];
static size_t text_count;

/* --- reading ------------------------------------------------------------------------- */

/* strstr within [from ... end): that of a sanitizer measures all that follows. */
static const char *
find(const char *from, const char *end, const char *part)
{
	return memmem(from, (size_t)(end - from), part, strlen(part));
}

/* Of the attributes in [tag ... end): its number, or `otherwise`. */
static double
attribute(const char *tag, const char *end, const char *name, double otherwise)
{
	char wanted[40];

	snprintf(wanted, sizeof wanted, " %s=\"", name);
	const char *at = find(tag, end, wanted);
	return at ? strtod(at + strlen(wanted), NULL) : otherwise;
}

static bool
says(const char *tag, const char *end, const char *part)
{
	return find(tag, end, part) != NULL;
}

/* The four entities that are written. */
static void
unescape(const char *from, size_t length, char *to, size_t room)
{
	static const struct {
		const char *entity;
		char character;
	} rows[] = {{"&amp;", '&'}, {"&lt;", '<'}, {"&gt;", '>'}, {"&quot;", '"'}};
	size_t used = 0;

	for (size_t i = 0; i < length && used + 1 < room; i++) {
		to[used] = from[i];
		for (size_t k = 0; k < sizeof rows / sizeof rows[0]; k++)
			if (strncmp(from + i, rows[k].entity, strlen(rows[k].entity)) ==
			    0) {
				to[used] = rows[k].character;
				i += strlen(rows[k].entity) - 1;
				break;
			}
		used++;
	}
	to[used] = '\0';
}

static void
read_text(const char *tag)
{
	const char *last = svg + svg_length, *end = find(tag, last, ">"),
		   *close = find(tag, last, "</text>");
	struct drawn_text *text = &texts[text_count];

	assert_non_null(end);
	assert_non_null(close);
	assert_true(text_count < TEXTS_MOST);
	assert_false(says(tag, end, "rotate")); /* these pictures have none */
	text_count++;
	unescape(end + 1, (size_t)(close - end - 1), text->words, sizeof text->words);
	text->size = attribute(tag, end, "font-size", 0);
	const char *fill = find(tag, last, "fill=\"#");
	assert_non_null(fill);
	text->rgb = (uint32_t)strtoul(fill + 7, NULL, 16);
	const struct canvas_letters letters = {
	    .size = text->size, .bold = says(tag, end, "font-weight=\"bold\"")};
	double width = canvas_text_width(&letters, text->words);
	double x = attribute(tag, end, "x", NAN), y = attribute(tag, end, "y", NAN);
	if (says(tag, end, "text-anchor=\"middle\""))
		x -= width / 2;
	else if (says(tag, end, "text-anchor=\"end\""))
		x -= width;
	/* letters rise three quarters of their size and reach down a fifth */
	text->box = (struct canvas_box){
	    x, y - 0.75 * text->size, x + width, y + 0.2 * text->size};
}

void
drawn_take(const struct picture *picture)
{
	free(svg);
	svg = NULL;
	FILE *out = open_memstream(&svg, &svg_length);
	assert_non_null(out);
	assert_int_equal(picture_write(picture, CANVAS_SVG, out), 0);
	assert_int_equal(fclose(out), 0);
	sheet = picture->size;
	text_count = 0;
	for (const char *at = svg; (at = find(at, svg + svg_length, "<text ")) != NULL;
	     at++)
		read_text(at);
}

void
drawn_release(void)
{
	free(svg);
	svg = NULL;
}

const char *
drawn_svg(void)
{
	return svg;
}

size_t
drawn_texts(void)
{
	return text_count;
}

const struct drawn_text *
drawn_text(size_t i)
{
	assert_true(i < text_count);
	return &texts[i];
}

/* --- asking -------------------------------------------------------------------------- */

int
drawn_count(const char *part)
{
	int count = 0;

	for (const char *at = svg; (at = find(at, svg + svg_length, part)) != NULL;
	     at++)
		count++;
	return count;
}

void
drawn_has(const char *part)
{
	if (drawn_count(part) == 0)
		fail_msg("'%s' is not in:\n%.6000s", part, svg);
}

void
drawn_lacks(const char *part)
{
	if (drawn_count(part) > 0)
		fail_msg("'%s' is in:\n%.6000s", part, svg);
}

static bool
overlap(const struct canvas_box *one, const struct canvas_box *other)
{
	return one->left < other->right && other->left < one->right &&
	       one->top < other->bottom && other->top < one->bottom;
}

static void
assert_on_sheet(const char *which, const struct drawn_text *text)
{
	const struct canvas_box *box = &text->box;

	if (box->left < 0 || box->top < 0 || box->right > sheet.x ||
	    box->bottom > sheet.y)
		fail_msg("%s: '%s' leaves the sheet: %.1f, %.1f to %.1f, %.1f of %.1f "
			 "x %.1f",
		    which, text->words, box->left, box->top, box->right, box->bottom,
		    sheet.x, sheet.y);
}

void
drawn_is_readable(const char *which)
{
	for (size_t i = 0; i < text_count; i++) {
		const struct drawn_text *text = &texts[i];
		assert_on_sheet(which, text);
		if (text->size < 10)
			fail_msg("%s: '%s' is of %.1f points", which, text->words,
			    text->size);
		for (size_t k = i + 1; k < text_count; k++)
			if (overlap(&text->box, &texts[k].box))
				fail_msg("%s: '%s' stands on '%s'", which, text->words,
				    texts[k].words);
	}
	/* neither as an attribute nor in words */
	static const char *const none[] = {"=\"nan", "=\"inf", "=\"-nan", "=\"-inf",
	    ",nan", ",inf", ">nan", " nan<", "-nan"};
	for (size_t i = 0; i < sizeof none / sizeof none[0]; i++)
		drawn_lacks(none[i]);
}
