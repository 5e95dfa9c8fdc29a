/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Makes the tables of cli/stats/stability_table.h: what independent normal series reach by
 * chance in one of sixty, mean and deviation (mean moving range / d2) taken from the series
 * itself.  A program of its own, a few minutes long:
 *
 *     gcc -O2 -o build/stability_table tests/reference/stability_table.c -lm
 *     build/stability_table > cli/stats/stability_table.h
 */
#include <math.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>

#define LENGTH(array) (sizeof(array) / sizeof((array)[0]))
#define SHARE (1.0 / 60)
#define SCATTER_SHARE (1.0 / 200)
#define LAMBDA 0.2
#define D2_OF_2 1.1283791670955126

enum {
	SEED = 20261127,
	LONGEST_RUN = 40,
	SERIES = 600000, /* of one length */
	RUN_LEAST = 9,
	RUN_MOST = 17,
};

static uint64_t state = SEED;

/* SplitMix64 (Steele, Lea, Flood 2014). */
static double
uniform(void)
{
	uint64_t z = (state += UINT64_C(0x9e3779b97f4a7c15));

	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return ((double)((z ^ (z >> 31)) >> 11) + 0.5) / 9007199254740992.0;
}

/* Two at a time: G. Marsaglia's polar method. */
static void
fill_normal(double *values, size_t n)
{
	for (size_t i = 0; i < n; i += 2) {
		double u, v, s;
		do {
			u = 2 * uniform() - 1;
			v = 2 * uniform() - 1;
			s = u * u + v * v;
		} while (s >= 1);
		double scale = sqrt(-2 * log(s) / s);
		values[i] = u * scale;
		values[i + 1] = v * scale; /* there is room for one more than n */
	}
}

struct reached {
	double beyond, ewma, scatter;
	size_t run;
};

/* Largest partial sum of the absolute deviations about their mean, in their own deviation. */
static double
scatter_reached(const double *values, size_t n, double mean)
{
	double sum = 0, squares = 0, part = 0, most = 0, count = (double)n;

	for (size_t i = 0; i < n; i++) {
		double off = fabs(values[i] - mean);
		sum += off;
		squares += off * off;
	}
	double middle = sum / count;
	for (size_t i = 0; i < n; i++) {
		part += fabs(values[i] - mean) - middle;
		most = fmax(most, fabs(part));
	}
	double variance = (squares - sum * middle) / (count - 1);
	return most / sqrt(variance * count);
}

static struct reached
reached_by(const double *values, size_t n)
{
	struct reached reached = {0};
	double sum = 0, ranges = 0, ewma = 0, faded = 1;
	size_t run = 0;
	int side = 0;

	for (size_t i = 0; i < n; i++) {
		sum += values[i];
		ranges += i > 0 ? fabs(values[i] - values[i - 1]) : 0;
	}
	double mean = sum / (double)n;
	double sigma = ranges / (double)(n - 1) / D2_OF_2;
	for (size_t i = 0; i < n; i++) {
		double off = (values[i] - mean) / sigma;
		ewma += LAMBDA * (off - ewma);
		faded *= (1 - LAMBDA) * (1 - LAMBDA);
		double ewma_sd = sqrt(LAMBDA / (2 - LAMBDA) * (1 - faded));
		reached.beyond = fmax(reached.beyond, fabs(off));
		reached.ewma = fmax(reached.ewma, fabs(ewma) / ewma_sd);
		int now = off > 0 ? 1 : -1;
		run = now == side ? run + 1 : 1;
		side = now;
		reached.run = run > reached.run ? run : reached.run;
	}
	reached.scatter = scatter_reached(values, n, mean);
	return reached;
}

static int
descending(const void *a, const void *b)
{
	double x = *(const double *)a, y = *(const double *)b;

	return (x < y) - (x > y);
}

/* What that share of them reach. */
static double
upper_point(double *values, size_t count, double share)
{
	qsort(values, count, sizeof(*values), descending);
	return values[(size_t)(share * (double)count)];
}

struct row {
	size_t n;
	double k, L, c;
	double run[LONGEST_RUN + 1]; /* share of series with a run so long */
};

static void
simulate(struct row *row)
{
	size_t n = row->n, count = SERIES;

	double *values = malloc((n + 1) * sizeof(*values));
	double *beyond = malloc(count * sizeof(*beyond));
	double *ewma = malloc(count * sizeof(*ewma));
	double *scatter = malloc(count * sizeof(*scatter));
	if (!values || !beyond || !ewma || !scatter)
		abort();
	for (size_t i = 0; i < count; i++) {
		fill_normal(values, n);
		struct reached reached = reached_by(values, n);
		beyond[i] = reached.beyond;
		ewma[i] = reached.ewma;
		scatter[i] = reached.scatter;
		for (size_t r = 0; r <= reached.run && r <= LONGEST_RUN; r++)
			row->run[r] += 1 / (double)count;
	}
	row->k = upper_point(beyond, count, SHARE);
	row->L = upper_point(ewma, count, SHARE);
	row->c = upper_point(scatter, count, SCATTER_SHARE);
	free(values);
	free(beyond);
	free(ewma);
	free(scatter);
}

/* The longest series in which a run of r is seldom enough, between rows: chances grow about
 * in proportion to the length. */
static double
longest_for(const struct row *rows, size_t count, size_t r)
{
	for (size_t i = 1; i < count; i++) {
		const struct row *a = &rows[i - 1], *b = &rows[i];
		if (a->run[r] <= SHARE && b->run[r] > SHARE)
			return (double)a->n + (double)(b->n - a->n) *
			                          (SHARE - a->run[r]) /
			                          (b->run[r] - a->run[r]);
	}
	return NAN;
}

/* As stability_known() there. */
static double
known_limit(double n)
{
	double low = 2, high = 10, wanted = -log1p(-SHARE) / n;

	while (high - low > 1e-12) {
		double middle = (low + high) / 2;
		if (erfc(middle / M_SQRT2) > wanted)
			low = middle;
		else
			high = middle;
	}
	return low;
}

int
main(void)
{
	static const size_t lengths[] = {20, 24, 29, 35, 42, 50, 60, 72, 103, 149, 215,
	    310, 446, 642, 925, 1332, 2000, 2880};
	static struct row rows[LENGTH(lengths)];

	for (size_t i = 0; i < LENGTH(lengths); i++) {
		rows[i].n = lengths[i];
		simulate(&rows[i]);
		fprintf(stderr, "n = %zu done\n", rows[i].n);
	}
	printf(
	    "/* SPDX-License-Identifier: GPL-3.0-or-later */\n"
	    "/*\n"
	    " * What independent normal series reach by chance in one of sixty (c: of "
	    "two\n"
	    " * hundred).  Made by tests/reference/stability_table.c: seed %d, %d\n"
	    " * series of each length.\n"
	    " */\n"
	    "#ifndef CLI_STATS_STABILITY_TABLE_H\n"
	    "#define CLI_STATS_STABILITY_TABLE_H\n\n"
	    "#include <stddef.h>\n\n"
	    "/* k and L less what k is with a known mean and deviation; c itself. */\n"
	    "static const struct stability_row {\n"
	    "\tsize_t n;\n"
	    "\tdouble k, L, c;\n"
	    "} stability_rows[] = {\n",
	    SEED, SERIES);
	for (size_t i = 0; i < LENGTH(rows); i++) {
		double known = known_limit((double)rows[i].n);
		printf("    {%zu, %.4f, %.4f, %.4f},\n", rows[i].n, rows[i].k - known,
		    rows[i].L - known, rows[i].c);
	}
	printf("};\n\n"
	       "/* Up to so many values a run of STABILITY_RUN_LEAST, one more ... is "
	       "seldom "
	       "enough. */\n"
	       "enum { STABILITY_RUN_LEAST = %d };\n"
	       "static const size_t stability_longest[] = {",
	    RUN_LEAST);
	for (size_t r = RUN_LEAST; r <= RUN_MOST; r++)
		printf("%s%.0f", r == RUN_LEAST ? "" : ", ",
		    floor(longest_for(rows, LENGTH(rows), r)));
	printf("};\n\n#endif\n");
	return 0;
}
