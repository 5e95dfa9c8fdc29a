/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Differences against what does not matter: a row each, all in margins, so that rows of
 * different units stand under each other; the interval that the verdict rests on.
 */
#ifndef CLI_PICTURE_MARGIN_PICTURE_H
#define CLI_PICTURE_MARGIN_PICTURE_H

#include "cli/picture/picture.h"

enum row_verdict {
	ROW_SAME,
	ROW_DIFFERENT,
	ROW_OPEN,
};

struct margin_row {
	const char *name;
	const char *words;            /* the difference with its unit */
	double difference, low, high; /* in margins; low, high NAN: no interval */
	enum row_verdict verdict;
};

struct margin_picture {
	const char *heading;
	const char *caption; /* of the scale: "difference of the means, in margins" */
	const struct margin_row *rows;
	size_t count;
};

struct picture margin_picture_make(const struct margin_picture *what, const char *name,
    const char *title, const char *description);

#endif
