/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * PDF by cairo.  A sheet is kept as a recording until the end, so that it can still be told
 * then how many there are.  It bears no date: the same drawing gives the same bytes.
 */
#include <cairo/cairo-pdf.h>
#include <stdlib.h>
#include <string.h>

#include "cli/picture/ink.h"
#include "daemon/base/error.h"

struct mark {
	int level;
	size_t sheet;
	double y;
	char *heading;
};

struct sheets {
	struct ink ink;            /* first: ink's functions take it for the whole */
	char *title, *description; /* NULL: none */
	struct mark *marks;
	size_t mark_count, mark_room;
};

static char *
copy_clean(struct ink *ink, const char *string)
{
	char *copy = string ? strdup(ink_clean(ink, string)) : NULL;

	ink->failed |= string && !copy;
	return copy;
}

/* --- sheets ------------------------------------------------------------------------ */

static bool
add_sheet(struct sheets *of)
{
	const cairo_rectangle_t extent = {0, 0, of->ink.size.x, of->ink.size.y};

	return ink_add_sheet(&of->ink,
	    cairo_recording_surface_create(CAIRO_CONTENT_COLOR_ALPHA, &extent));
}

static void
pdf_next_sheet(void *state)
{
	add_sheet(state);
}

static size_t
pdf_sheets(const void *state)
{
	const struct sheets *of = state;

	return of->ink.count;
}

static void
pdf_turn_to(void *state, size_t sheet)
{
	struct sheets *of = state;

	ink_turn_to(&of->ink, sheet);
}

static void
pdf_mark(void *state, int level, double y, const char *heading)
{
	struct sheets *of = state;

	if (of->mark_count == of->mark_room) {
		size_t room = of->mark_room ? of->mark_room * 2 : 16;
		struct mark *marks = reallocarray(of->marks, room, sizeof *marks);
		if (!marks) {
			of->ink.failed = true;
			return;
		}
		of->marks = marks;
		of->mark_room = room;
	}
	char *copy = copy_clean(&of->ink, heading);
	if (copy)
		of->marks[of->mark_count++] = (struct mark){
		    .level = level, .sheet = of->ink.count, .y = y, .heading = copy};
}

/* The outline that viewers show beside the sheets. */
static void
put_outline(const struct sheets *of, cairo_surface_t *pdf)
{
	enum { LEVELS = 8 };
	int parent[LEVELS + 1] = {CAIRO_PDF_OUTLINE_ROOT};

	for (size_t i = 0; i < of->mark_count; i++) {
		const struct mark *at = &of->marks[i];
		int level = at->level < 0        ? 0
		            : at->level < LEVELS ? at->level
		                                 : LEVELS - 1;
		char place[80];
		snprintf(
		    place, sizeof place, "page=%zu pos=[0 %d]", at->sheet, (int)at->y);
		int id = cairo_pdf_surface_add_outline(
		    pdf, parent[level], at->heading, place, 0);
		for (int below = level + 1; below <= LEVELS; below++)
			parent[below] = id;
	}
}

static void
put_sheets(const struct sheets *of, cairo_surface_t *pdf)
{
	cairo_t *cairo = cairo_create(pdf);

	for (size_t i = 0; i < of->ink.count; i++) {
		cairo_set_source_surface(cairo, of->ink.sheets[i], 0, 0);
		cairo_paint(cairo);
		cairo_show_page(cairo);
	}
	cairo_destroy(cairo);
}

/* --- the whole ------------------------------------------------------------------------ */

static int
sheets_free(struct sheets *of)
{
	ink_dry(&of->ink);
	int code = of->ink.failed ? ERROR_MEMORY : 0;
	ink_release(&of->ink);
	for (size_t i = 0; i < of->mark_count; i++)
		free(of->marks[i].heading);
	free(of->marks);
	free(of->title);
	free(of->description);
	free(of);
	return code;
}

void *
canvas_pdf_new(
    FILE *out, struct canvas_point size, const char *title, const char *description)
{
	struct sheets *of = calloc(1, sizeof *of);

	if (!of)
		return NULL;
	ink_init(&of->ink, out, size);
	of->title = copy_clean(&of->ink, title);
	of->description = copy_clean(&of->ink, description);
	if (of->ink.failed || !add_sheet(of)) {
		sheets_free(of);
		return NULL;
	}
	return of;
}

static int
pdf_end(void *state)
{
	struct sheets *of = state;

	ink_dry(&of->ink);
	cairo_surface_t *pdf = cairo_pdf_surface_create_for_stream(
	    ink_write, &of->ink, of->ink.size.x, of->ink.size.y);
	cairo_pdf_surface_set_metadata(pdf, CAIRO_PDF_METADATA_CREATE_DATE, "");
	if (of->title)
		cairo_pdf_surface_set_metadata(
		    pdf, CAIRO_PDF_METADATA_TITLE, of->title);
	if (of->description)
		cairo_pdf_surface_set_metadata(
		    pdf, CAIRO_PDF_METADATA_SUBJECT, of->description);
	put_sheets(of, pdf);
	put_outline(of, pdf);
	cairo_surface_finish(pdf);
	of->ink.failed |= cairo_surface_status(pdf) != CAIRO_STATUS_SUCCESS;
	cairo_surface_destroy(pdf);
	return sheets_free(of);
}

const struct canvas_writer canvas_pdf_writer = {
    .polyline = ink_polyline,
    .polygon = ink_polygon,
    .text = ink_text,
    .clip = ink_clip,
    .unclip = ink_restore,
    .enter = ink_enter,
    .leave = ink_restore,
    .measure = ink_measure,
    .next_sheet = pdf_next_sheet,
    .sheets = pdf_sheets,
    .turn_to = pdf_turn_to,
    .mark = pdf_mark,
    .end = pdf_end,
};
