/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shapes by which points differ, so that nobody needs their colours; and the key that
 * says what each stands for. */
#ifndef CLI_PICTURE_GLYPH_H
#define CLI_PICTURE_GLYPH_H

#include "cli/picture/canvas.h"

enum glyph {
	GLYPH_DOT,
	GLYPH_DIAMOND,
	GLYPH_RING,
	GLYPH_HOLLOW, /* a diamond's outline, white within */
	GLYPH_CROSS,
	GLYPH_UP,
	GLYPH_DOWN,   /* triangles: further that way */
	GLYPH_STROKE, /* upright */
	GLYPH_BAR,    /* a block */
	GLYPH_LINE,   /* level, broad */
};

void glyph_put(struct canvas *canvas, enum glyph glyph, struct canvas_point at,
    double radius, uint32_t rgb);

struct key_entry {
	enum glyph glyph;
	double radius;
	uint32_t rgb;
	char words[80];
};

enum { KEY_MOST = 8 };
struct key {
	struct key_entry list[KEY_MOST];
	size_t count;
};

void key_add(struct key *key, enum glyph glyph, double radius, uint32_t rgb,
    const char *format, ...) __attribute__((format(printf, 5, 6)));
/* One after the other, in as many lines as it takes. */
double key_height(const struct key *key);
void key_put(struct canvas *canvas, const struct key *key, double top);

#endif
