/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/sort.h"

#include <gsl/gsl_sort.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

enum { FEW = 512, DIGIT_BITS = 11, DIGITS = 6, DIGIT_VALUES = 1 << DIGIT_BITS };

#define SIGN (UINT64_C(1) << 63)

/* The bits of a double as a number that is in the same order, and back. */
static uint64_t
key_of(double value)
{
	uint64_t bits;

	memcpy(&bits, &value, sizeof bits);
	return bits & SIGN ? ~bits : bits | SIGN;
}

static double
value_of(uint64_t key)
{
	uint64_t bits = key & SIGN ? key & ~SIGN : ~key;
	double value;

	memcpy(&value, &bits, sizeof value);
	return value;
}

static size_t
digit_of(uint64_t key, int digit)
{
	return key >> (DIGIT_BITS * digit) & (DIGIT_VALUES - 1);
}

/* Sorted by one digit, those that are alike in their order; false when all are alike. */
static bool
sort_by(int digit, const uint64_t *from, uint64_t *to, size_t n)
{
	size_t place[DIGIT_VALUES] = {0}, before = 0;

	for (size_t i = 0; i < n; i++)
		place[digit_of(from[i], digit)]++;
	if (place[digit_of(from[0], digit)] == n)
		return false;
	for (size_t value = 0; value < DIGIT_VALUES; value++) {
		size_t count = place[value];
		place[value] = before;
		before += count;
	}
	for (size_t i = 0; i < n; i++)
		to[place[digit_of(from[i], digit)]++] = from[i];
	return true;
}

void
sort_values(double *values, size_t n)
{
	uint64_t *keys = n < FEW ? NULL : malloc(2 * n * sizeof *keys);

	if (!keys) {
		gsl_sort(values, 1, n);
		return;
	}
	uint64_t *from = keys, *to = keys + n;
	for (size_t i = 0; i < n; i++)
		from[i] = key_of(values[i]);
	for (int digit = 0; digit < DIGITS; digit++)
		if (sort_by(digit, from, to, n)) {
			uint64_t *sorted = to;
			to = from;
			from = sorted;
		}
	for (size_t i = 0; i < n; i++)
		values[i] = value_of(from[i]);
	free(keys);
}
