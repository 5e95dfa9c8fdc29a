/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * SVG 1.1 (W3C): text stays text, fonts are generic, nothing outside the file is
 * referred to.
 */
#include "cli/picture/writer.h"

#include <inttypes.h>
#include <math.h>
#include <stdlib.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

enum { ELEMENT_MAX_BYTES = 1 << 22, ID_LENGTH = 64 };

struct svg {
	FILE *out;
	struct text element;
	char id[ID_LENGTH]; /* begins all ids */
	int clips;          /* so far: each has a name of its own */
	bool failed;
};

static void
flush(struct svg *svg)
{
	if (svg->element.failed)
		svg->failed = true;
	else if (svg->element.bytes)
		fwrite(svg->element.bytes, 1, svg->element.length, svg->out);
	text_clear(&svg->element);
}

/* To a hundredth of a point. */
static void
add_number(struct text *text, double value)
{
	char digits[32];
	double rounded = round(value * 100) / 100;

	text_from_number(rounded == 0 ? 0 : rounded, digits, sizeof digits); /* no -0 */
	text_puts(text, digits);
}

static void
add_attribute(struct text *text, const char *name, double value)
{
	text_printf(text, " %s=\"", name);
	add_number(text, value);
	text_puts(text, "\"");
}

static void
add_colour(struct text *text, const char *name, uint32_t rgb)
{
	text_printf(text, " %s=\"#%06" PRIx32 "\"", name, rgb & 0xffffff);
}

static void
add_escaped(struct text *text, const char *string)
{
	const char *from = string;
	uint32_t point;

	while ((point = utf8_next(&string)) != 0) {
		if (point == '&')
			text_puts(text, "&amp;");
		else if (point == '<')
			text_puts(text, "&lt;");
		else if (point == '>')
			text_puts(text, "&gt;");
		else if (point == '\r')
			text_puts(text, " ");
		else if (!utf8_is_shown(point))
			text_puts(text, "\xef\xbf\xbd"); /* U+FFFD */
		else
			text_add(text, from, (size_t)(string - from));
		from = string;
	}
}

static void
add_points(struct text *text, const struct canvas_point *points, size_t count)
{
	text_puts(text, " points=\"");
	for (size_t i = 0; i < count; i++) {
		text_puts(text, i > 0 ? " " : "");
		add_number(text, points[i].x);
		text_puts(text, ",");
		add_number(text, points[i].y);
	}
	text_puts(text, "\"");
}

static void
svg_polyline(void *state, const struct canvas_point *points, size_t count,
    const struct canvas_pen *pen)
{
	struct svg *svg = state;
	const double *dash = writer_dash(pen->dash);

	text_puts(&svg->element, "<polyline fill=\"none\"");
	add_colour(&svg->element, "stroke", pen->rgb);
	add_attribute(&svg->element, "stroke-width", pen->width);
	if (dash) {
		text_puts(&svg->element, " stroke-dasharray=\"");
		add_number(&svg->element, dash[0]);
		text_puts(&svg->element, " ");
		add_number(&svg->element, dash[1]);
		text_puts(&svg->element, "\"");
	}
	add_points(&svg->element, points, count);
	text_puts(&svg->element, "/>\n");
	flush(svg);
}

static void
svg_polygon(void *state, const struct canvas_point *points, size_t count, uint32_t rgb)
{
	struct svg *svg = state;

	text_puts(&svg->element, "<polygon");
	add_colour(&svg->element, "fill", rgb);
	add_points(&svg->element, points, count);
	text_puts(&svg->element, "/>\n");
	flush(svg);
}

static void
svg_text(void *state, struct canvas_point at, const struct canvas_letters *letters,
    const char *string)
{
	static const char *const anchors[] = {
	    [ANCHOR_START] = "start", [ANCHOR_MIDDLE] = "middle", [ANCHOR_END] = "end"};
	struct svg *svg = state;
	struct text *text = &svg->element;

	text_puts(text, "<text");
	add_attribute(text, "x", at.x);
	add_attribute(text, "y", at.y);
	add_attribute(text, "font-size", letters->size);
	add_colour(text, "fill", letters->rgb);
	if (letters->anchor != ANCHOR_START)
		text_printf(text, " text-anchor=\"%s\"", anchors[letters->anchor]);
	if (letters->bold)
		text_puts(text, " font-weight=\"bold\"");
	if (letters->upwards) {
		text_puts(text, " transform=\"rotate(-90 ");
		add_number(text, at.x);
		text_puts(text, " ");
		add_number(text, at.y);
		text_puts(text, ")\"");
	}
	text_puts(text, ">");
	add_escaped(text, string);
	text_puts(text, "</text>\n");
	flush(svg);
}

static void
svg_clip(void *state, struct canvas_box box)
{
	struct svg *svg = state;
	struct text *text = &svg->element;

	svg->clips++;
	text_printf(text, "<clipPath id=\"%sclip%d\"><rect", svg->id, svg->clips);
	add_attribute(text, "x", box.left);
	add_attribute(text, "y", box.top);
	add_attribute(text, "width", box.right - box.left);
	add_attribute(text, "height", box.bottom - box.top);
	text_printf(text, "/></clipPath>\n<g clip-path=\"url(#%sclip%d)\">\n", svg->id,
	    svg->clips);
	flush(svg);
}

static void
svg_close_group(void *state)
{
	struct svg *svg = state;

	text_puts(&svg->element, "</g>\n");
	flush(svg);
}

static void
svg_enter(void *state, struct canvas_point corner, double scale)
{
	struct svg *svg = state;
	struct text *text = &svg->element;

	text_puts(text, "<g transform=\"translate(");
	add_number(text, corner.x);
	text_puts(text, " ");
	add_number(text, corner.y);
	text_printf(text, ") scale(%.6g)\">\n", scale);
	flush(svg);
}

static int
svg_end(void *state)
{
	struct svg *svg = state;

	text_puts(&svg->element, "</svg>\n");
	flush(svg);
	bool failed = svg->failed;
	text_release(&svg->element);
	free(svg);
	return failed ? ERROR_MEMORY : 0;
}

static void
add_told(struct svg *svg, const char *element, const char *words)
{
	struct text *text = &svg->element;

	if (!words)
		return;
	text_printf(text, "<%s", element);
	if (*svg->id)
		text_printf(text, " id=\"%s%s\"", svg->id, element);
	text_puts(text, ">");
	add_escaped(text, words);
	text_printf(text, "</%s>\n", element);
}

/* In a document readers are told expressly which words are meant. */
static void
add_labels(struct svg *svg, const char *title, const char *description)
{
	if (!*svg->id || !title)
		return;
	text_printf(&svg->element, " aria-labelledby=\"%stitle\"", svg->id);
	if (description)
		text_printf(&svg->element, " aria-describedby=\"%sdesc\"", svg->id);
}

static void
begin(struct svg *svg, struct canvas_point size, const char *title,
    const char *description)
{
	struct text *text = &svg->element;

	if (!*svg->id)
		text_puts(text, "<?xml version=\"1.0\" encoding=\"UTF-8\"?>\n");
	text_puts(
	    text, "<svg xmlns=\"http://www.w3.org/2000/svg\" version=\"1.1\" width=\"");
	add_number(text, size.x);
	text_puts(text, "pt\" height=\"");
	add_number(text, size.y);
	text_puts(text, "pt\" viewBox=\"0 0 ");
	add_number(text, size.x);
	text_puts(text, " ");
	add_number(text, size.y);
	text_puts(text, "\" role=\"img\" font-family=\"sans-serif\""
			" stroke-linejoin=\"round\"");
	add_labels(svg, title, description);
	text_puts(text, ">\n");
	add_told(svg, "title", title);
	add_told(svg, "desc", description);
	flush(svg);
}

void *
canvas_svg_new(FILE *out, struct canvas_point size, const char *title,
    const char *description, const char *id)
{
	struct svg *svg = calloc(1, sizeof *svg);

	if (!svg)
		return NULL;
	svg->out = out;
	text_init(&svg->element, ELEMENT_MAX_BYTES);
	if (id)
		snprintf(svg->id, sizeof svg->id, "%s-", id);
	begin(svg, size, title, description);
	return svg;
}

const struct canvas_writer canvas_svg_writer = {
    .polyline = svg_polyline,
    .polygon = svg_polygon,
    .text = svg_text,
    .clip = svg_clip,
    .unclip = svg_close_group,
    .enter = svg_enter,
    .leave = svg_close_group,
    .end = svg_end,
};
