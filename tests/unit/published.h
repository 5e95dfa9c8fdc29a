/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What is held against a value from outside: asserted as assert_near does it, and, when
 * EVENSOAK_PUBLISHED names a file, a row at its end, of which `make validation` makes the
 * summary: evidence, source, name, test, what, how many values, expected, got, tolerance and
 * whether it passed, parted by tabs.
 *
 *	published(SOURCE_X, "core after 60 s, C", got, expected, tolerance);
 *	published_same(SOURCE_X, "the frame that asks", got, expected, bytes);
 *
 * and of many values one row, that of the value nearest to its own tolerance:
 *
 *	struct published_table table = published_begin(SOURCE_X, "the quantiles");
 *	for (...)
 *		published_add(&table, got, expected, tolerance);
 *	published_end(&table);
 *
 * Texts have no tab.  Include after cmocka.h.
 */
#ifndef TESTS_UNIT_PUBLISHED_H
#define TESTS_UNIT_PUBLISHED_H

#include <math.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#include <cmocka.h>

#include "tests/reference/sources.h"

struct published_table {
	enum source_id source;
	const char *what, *file;
	size_t count;
	double got, expected, tolerance; /* of the one nearest to its tolerance */
	double nearness;                 /* its difference over its tolerance */
};

#define published_begin(source, what) published_begin_at((source), (what), __FILE__)
#define published_add(table, got, expected, tolerance) \
	published_add_at((table), (got), (expected), (tolerance), __FILE__, __LINE__)
#define published(source, what, got, expected, tolerance)                           \
	published_at((struct published_table){(source), (what), __FILE__, 0, (got), \
			 (expected), (tolerance), -1},                              \
	    __FILE__, __LINE__)
#define published_same(source, what, got, expected, bytes) \
	published_same_at(                                 \
	    (source), (what), (got), (expected), (bytes), __FILE__, __LINE__)

static inline struct published_table
published_begin_at(enum source_id source, const char *what, const char *file)
{
	return (struct published_table){
	    .source = source, .what = what, .file = file, .nearness = -1};
}

/* The row; nothing at all makes none, and a table of nothing fails. */
static inline void
published_end(const struct published_table *table)
{
	const char *path = getenv("EVENSOAK_PUBLISHED");
	const struct source_row *row = &source_table[table->source];
	FILE *file;

	if (table->count == 0)
		fail_msg("%s: no value", table->what);
	if (!path || !*path)
		return;
	file = fopen(path, "a");
	if (!file)
		fail_msg("%s cannot be written", path);
	fprintf(file, "%d\t%s\t%s\t%s\t%zu\t%.17g\t%.17g\t%.17g\t%s\n", row->evidence,
	    row->name ? row->name : "", table->file, table->what, table->count,
	    table->expected, table->got, table->tolerance,
	    table->nearness <= 1 ? "yes" : "no");
	if (fclose(file) != 0)
		fail_msg("%s cannot be written", path);
}

static inline void
published_add_at(struct published_table *table, double got, double expected,
    double tolerance, const char *file, int line)
{
	double difference = fabs(got - expected);
	bool passes = difference <= tolerance;
	/* a NAN is beyond everything */
	double nearness = !passes          ? INFINITY
	                  : difference > 0 ? difference / tolerance
	                                   : 0;

	table->count++;
	if (nearness > table->nearness) {
		table->nearness = nearness;
		table->got = got;
		table->expected = expected;
		table->tolerance = tolerance;
	}
	if (passes)
		return;
	published_end(table);
	print_error("%s: %.17g, wanted %.17g within %g\n", table->what, got, expected,
	    tolerance);
	_fail(file, line);
}

static inline void
published_at(struct published_table one, const char *file, int line)
{
	published_add_at(&one, one.got, one.expected, one.tolerance, file, line);
	published_end(&one);
}

/* Recorded as how many of the bytes agree. */
static inline void
published_same_at(enum source_id source, const char *what, const void *got,
    const void *expected, size_t bytes, const char *file, int line)
{
	const unsigned char *a = got, *b = expected;
	size_t agree = 0;

	for (size_t i = 0; i < bytes; i++)
		agree += a[i] == b[i];
	published_at((struct published_table){source, what, file, 0, (double)agree,
			 (double)bytes, 0, -1},
	    file, line);
}

#endif
