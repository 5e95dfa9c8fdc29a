/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How a bench tells what it measured: one line a figure, on stdout.
 *
 *     name   value unit   target   met or MISSED   what it is measured against
 *
 * A missed target is told and is no failure of the bench: a busy machine misses some.
 * A bench that cannot measure says why on stderr and exits 1.
 * Times are the system's and not the clock's: benches are about the machine.
 */
#ifndef TESTS_BENCH_FIGURE_H
#define TESTS_BENCH_FIGURE_H

#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <time.h>

/* The line up to the target; `target` is a text of at most 12 letters. */
static inline void __attribute__((format(printf, 6, 0)))
figure_print(const char *name, double value, const char *unit, const char *target,
    const char *result, const char *against, va_list arguments)
{
	printf("%-26s %10.4g %-8s %-12s %-7s", name, value, unit, target, result);
	vprintf(against, arguments);
	putchar('\n');
	fflush(stdout);
}

static inline void __attribute__((format(printf, 5, 6)))
figure_at_least(const char *name, double value, const char *unit, double target,
    const char *against, ...)
{
	char text[16];
	va_list arguments;

	snprintf(text, sizeof text, ">= %.4g", target);
	va_start(arguments, against);
	figure_print(name, value, unit, text, value >= target ? "met" : "MISSED",
	    against, arguments);
	va_end(arguments);
}

static inline void __attribute__((format(printf, 5, 6)))
figure_at_most(const char *name, double value, const char *unit, double target,
    const char *against, ...)
{
	char text[16];
	va_list arguments;

	snprintf(text, sizeof text, "<= %.4g", target);
	va_start(arguments, against);
	figure_print(name, value, unit, text, value <= target ? "met" : "MISSED",
	    against, arguments);
	va_end(arguments);
}

/* A figure without a target. */
static inline void __attribute__((format(printf, 4, 5)))
figure_only(const char *name, double value, const char *unit, const char *against, ...)
{
	va_list arguments;

	va_start(arguments, against);
	figure_print(name, value, unit, "-", "-", against, arguments);
	va_end(arguments);
}

static inline void
figure_skipped(const char *name, const char *why)
{
	printf("%-26s %10s %-8s %-12s %-7s%s\n", name, "-", "", "-", "SKIP", why);
}

static inline double
figure_now_s(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static inline int
figure_order(const void *left, const void *right)
{
	double a = *(const double *)left, b = *(const double *)right;

	return (a > b) - (a < b);
}

/* Sorts the values.  0.5: the median. */
static inline double
figure_quantile(double *values, size_t count, double ratio)
{
	qsort(values, count, sizeof *values, figure_order);
	return values[(size_t)(ratio * (double)(count - 1))];
}

#endif
