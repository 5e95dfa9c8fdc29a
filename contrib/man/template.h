/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A page that people wrote, with lines that stand for what tables say: "@part argument".
 */
#ifndef CONTRIB_MAN_TEMPLATE_H
#define CONTRIB_MAN_TEMPLATE_H

#include <stdio.h>

struct error;

/* The whole page of `in` to `out`.  Errors name the template's line. */
int template_fill(FILE *in, FILE *out, const char *path, struct error *error);

#endif
