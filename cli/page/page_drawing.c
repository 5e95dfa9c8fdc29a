/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One picture alone, as SVG or PNG: of the rest of the page nothing is written. */
#include "cli/page/writer.h"

#include <stdlib.h>

#include "cli/picture/picture.h"
#include "daemon/base/error.h"

struct drawing {
	FILE *out;
	enum canvas_format format;
	int code;
	size_t pictures;
	char *bytes; /* of the first */
	size_t length;
};

static void
drawing_open(void *state, enum page_group group, const char *key, const char *heading)
{
	(void)state, (void)group, (void)key, (void)heading;
}

static void
drawing_close(void *state)
{
	(void)state;
}

static void
drawing_note(void *state, const char *key, enum page_tone tone, const char *sentence)
{
	(void)state, (void)key, (void)tone, (void)sentence;
}

static void
drawing_field(void *state, const char *key, const char *label, const struct cell *cell)
{
	(void)state, (void)key, (void)label, (void)cell;
}

static void
drawing_table(void *state, const char *key, const char *heading,
    const struct column *columns, size_t count)
{
	(void)state, (void)key, (void)heading, (void)columns, (void)count;
}

static void
drawing_row(void *state, const struct cell *cells)
{
	(void)state, (void)cells;
}

static void
drawing_picture(void *state, const struct picture *picture, const char *caption)
{
	struct drawing *drawing = state;
	FILE *held;

	(void)caption;
	if (drawing->pictures++ > 0)
		return; /* of several none was chosen */
	held = open_memstream(&drawing->bytes, &drawing->length);
	if (!held) {
		drawing->code = ERROR_MEMORY;
		return;
	}
	drawing->code = picture_write(picture, drawing->format, held);
	if (fclose(held) != 0 && drawing->code == 0)
		drawing->code = ERROR_MEMORY;
}

static int
drawing_end(void *state)
{
	struct drawing *drawing = state;
	int code = drawing->code;

	if (code == 0 && drawing->pictures == 1)
		fwrite(drawing->bytes, 1, drawing->length, drawing->out);
	free(drawing->bytes);
	free(drawing);
	return code;
}

void *
page_drawing_new(FILE *out, enum page_format format)
{
	struct drawing *drawing = calloc(1, sizeof *drawing);

	if (!drawing)
		return NULL;
	drawing->out = out;
	drawing->format = format == PAGE_PNG ? CANVAS_PNG : CANVAS_SVG;
	return drawing;
}

const struct writer page_drawing_writer = {
    .open = drawing_open,
    .close = drawing_close,
    .note = drawing_note,
    .field = drawing_field,
    .table = drawing_table,
    .row = drawing_row,
    .table_end = drawing_close,
    .picture = drawing_picture,
    .end = drawing_end,
};
