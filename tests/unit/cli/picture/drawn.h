/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A picture drawn as SVG, and what is in it. */
#ifndef TESTS_UNIT_CLI_PICTURE_DRAWN_H
#define TESTS_UNIT_CLI_PICTURE_DRAWN_H

#include "cli/picture/picture.h"

/* Draws it; the last one drawn is what the others look at. */
void drawn_take(const struct picture *picture);
void drawn_release(void);

const char *drawn_svg(void);
int drawn_count(const char *part);
/* Fails unless it is in. */
void drawn_has(const char *part);
void drawn_lacks(const char *part);

/* Fails where two texts stand on each other, one leaves the sheet, is of less than 10 points,
 * or a number is none. */
void drawn_is_readable(const char *which);

/* How many texts there are, and the box of the i-th. */
struct drawn_text {
	struct canvas_box box;
	double size;
	uint32_t rgb;
	char words[300];
};
size_t drawn_texts(void);
const struct drawn_text *drawn_text(size_t i);

#endif
