/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A value as people read it.  For the formats of this folder. */
#ifndef CLI_PAGE_CELL_H
#define CLI_PAGE_CELL_H

#include "cli/page/page.h"

struct text;

/* Adds what people read: local time, yes or no, digits as the cell says. */
void cell_add_shown(struct text *text, const struct cell *cell);

/* The same of several, with commas. */
void cell_add_list(struct text *text, const struct cell *cells, size_t count);

/* Adds the words without what could steer a terminal: utf8_steers. */
void cell_add_plain(struct text *text, const char *words);

/* Whether a blank within words binds a number to its unit: "95 %", "4.2 F".  No line ends
 * there. */
bool cell_binds(const char *words, const char *blank);

#endif
