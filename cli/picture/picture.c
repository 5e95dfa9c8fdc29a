/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/picture.h"

#include "daemon/base/error.h"

int
picture_write(const struct picture *picture, enum canvas_format format, FILE *out)
{
	struct canvas *canvas = canvas_new(
	    out, format, picture->size, picture->title, picture->description);

	if (!canvas)
		return ERROR_MEMORY;
	picture->draw(canvas, picture->what);
	return canvas_end(canvas);
}
