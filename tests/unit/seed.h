/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a random test begins with: EVENSOAK_SEED, or `usual` where that is not set.
 * Told on stderr, so that a failure can be had again.
 */
#ifndef TESTS_UNIT_SEED_H
#define TESTS_UNIT_SEED_H

#include <stdio.h>
#include <stdlib.h>

static inline unsigned
seed_take(unsigned usual)
{
	const char *given = getenv("EVENSOAK_SEED");
	unsigned seed = given ? (unsigned)strtoul(given, NULL, 10) : usual;

	fprintf(stderr, "EVENSOAK_SEED=%u\n", seed);
	return seed;
}

#endif
