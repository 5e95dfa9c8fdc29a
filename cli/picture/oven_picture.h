/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A plan of an oven's heater zones, top and bottom, each coloured by its mean output and, in
 * a second plan, by its difference from the reference run; the number stands in each zone, so
 * that nobody needs the colours.
 */
#ifndef CLI_PICTURE_OVEN_PICTURE_H
#define CLI_PICTURE_OVEN_PICTURE_H

#include "cli/picture/picture.h"

struct oven_zone {
	const char *label; /* "3" */
	double output;     /* 0 ... 1; NAN: absent */
	double difference; /* from the reference, -1 ... 1; NAN: none */
};

struct
    oven_bank { /* the zones of one side of one oven, in the order of their numbers */
	const char *heading; /* "oven 1, top" */
	const struct oven_zone *zones;
	size_t zone_count;
	size_t columns; /* of the plan; 0: as square as can be */
};

struct oven_picture {
	const char *heading;   /* "heater zones" */
	const char *reference; /* "reference run spring-2026"; NULL: no second plan */
	const struct oven_bank *banks;
	size_t bank_count;
};

struct picture oven_picture_make(const struct oven_picture *what, const char *name,
    const char *title, const char *description);

#endif
