/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The colours of the pictures, each with one meaning in all of them.  Those that stand for
 * different things in one picture are told apart by readers with any of the three colour
 * blindnesses, and by shape or dash too (tests/unit/cli/picture/test_palette.c computes it).
 * Pure.
 */
#ifndef CLI_PICTURE_PALETTE_H
#define CLI_PICTURE_PALETTE_H

#include <stdint.h>

#define PALETTE_GROUND 0xffffff
#define PALETTE_BEYOND 0xf8f1ea /* the ground outside a limit */
#define PALETTE_INK 0x22303a    /* words */
#define PALETTE_FAINT 0x55626b  /* words that matter less */
#define PALETTE_GRID 0xe4e8eb
#define PALETTE_FRAME 0x848e95

#define PALETTE_POINT 0x4a83ad /* a shot */
#define PALETTE_JOIN 0xb9cedd  /* from one shot to the next; a band */
#define PALETTE_MANY 0x8fb4cf  /* many shots */
#define PALETTE_BAR 0xc9d9e5   /* how many shots */
#define PALETTE_SLOW 0x12324d  /* where the values are, by and large */
#define PALETTE_LIMIT 0xb5401c /* a specification limit, and what is outside one */
#define PALETTE_TARGET 0x5b3d8c
#define PALETTE_CONTROL 0x848e95 /* control limits, centre */
#define PALETTE_MARK 0x55626b    /* a change */
#define PALETTE_NOTE 0x9ba5ac    /* a note */

/* Lines of one kind beside each other. */
enum { PALETTE_LINES = 3 };
extern const uint32_t palette_line[PALETTE_LINES];

/* Light to dark in one hue for 0 ... 1, and from blue over a light grey to ochre for -1 ... 1;
 * what is beyond is taken as the end. */
uint32_t palette_amount(double ratio);
uint32_t palette_difference(double ratio);

/* Black or white, whichever is read better on it. */
uint32_t palette_words_on(uint32_t ground);

/* Of relative luminances, 1 ... 21, as the Web Content Accessibility Guidelines define it (2.1,
 * "contrast ratio"; from memory). */
double palette_contrast(uint32_t one, uint32_t other);

#endif
