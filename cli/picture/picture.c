/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/picture.h"

#include "daemon/base/error.h"

static int
draw(const struct picture *picture, struct canvas *canvas)
{
	if (!canvas)
		return ERROR_MEMORY;
	picture->draw(canvas, picture->what);
	return canvas_end(canvas);
}

int
picture_write(const struct picture *picture, enum canvas_format format, FILE *out)
{
	return draw(picture, canvas_new(out, format, picture->size, picture->title,
				 picture->description));
}

int
picture_write_part(const struct picture *picture, const char *id, FILE *out)
{
	return draw(picture, canvas_new_part(out, picture->size, picture->title,
				 picture->description, id));
}

void
picture_put(const struct picture *picture, struct canvas *canvas,
    struct canvas_point corner, double scale)
{
	canvas_enter(canvas, corner, scale);
	picture->draw(canvas, picture->what);
	canvas_leave(canvas);
}
