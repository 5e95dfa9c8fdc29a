/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Words on the pictures: their sizes, the same on all; shortened or parted where they would
 * not fit; the head that every picture has.  Lengths in points of the sheet.
 */
#ifndef CLI_PICTURE_LETTERING_H
#define CLI_PICTURE_LETTERING_H

#include "cli/picture/canvas.h"

/* 10 points on a sheet of 640 are 8 pt on paper or at 800 px. */
enum { LETTERING_HEADING = 13, LETTERING_WORDS = 11, LETTERING_SMALL = 10 };
#define LETTERING_LINE 13.0 /* from one line of small words to the next */
#define LETTERING_RISE 3.6  /* from the middle of small letters down to their base */
#define SHEET_WIDTH 640.0
#define SHEET_EDGE 8.0 /* nothing stands nearer to the edge */

enum { LETTERING_ROOM = 256 };

/* The string, or what of it is no wider than `width` with an ellipsis behind. */
void lettering_fit(const struct canvas_letters *letters, const char *string,
    double width, char to[static LETTERING_ROOM]);

/* The next line of words no wider than `width`, parted at blanks; moves on in `*string`; false
 * when nothing is left. */
bool lettering_line(const struct canvas_letters *letters, const char **string,
    double width, char to[static LETTERING_ROOM]);

/* A number for a label: `digits` after the point, or the fewest that say the same. */
enum { LETTERING_NUMBER = 40 };
void lettering_number(
    double value, int digits, bool shortest, char to[static LETTERING_NUMBER]);

/* The ground, the heading and, under it, a sentence (NULL: none) of two lines at most; their
 * height. */
double lettering_head_height(const char *sentence);
void lettering_head(struct canvas *canvas, struct canvas_point size,
    const char *heading, const char *sentence);

#endif
