/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A page that people wrote, with lines that stand for what tables say: "@part argument".
 */
#ifndef CONTRIB_MAN_TEMPLATE_H
#define CONTRIB_MAN_TEMPLATE_H

#include <stdio.h>

struct error;

/* Writes the part to `out`; `argument` is what the template says behind its name ("" for
 * nothing).  Returns 0, or a negative code with the sentence: what a table lacks, and where
 * to say it. */
typedef int template_write(FILE *out, const char *argument, struct error *error);

struct template_part {
	const char *name; /* NULL: the end of a list */
	template_write *write;
};

/* main() of a program that fills the template argv[1], to stdout: 0, or 1 with the sentence,
 * which names the template's line, 2 for wrong usage, 3 where it cannot read or write. */
int template_main(int argc, char *argv[], const struct template_part *parts);

#endif
