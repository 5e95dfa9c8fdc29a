/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people read of a capability study. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include <cmocka.h>

#include "tests/unit/cli/command/readings.h"
#include "tests/unit/near.h"

static struct readings readings;
static struct plant *plant = &readings.plant;
static unsigned short state[3];

static int
open_readings(void **state_)
{
	(void)state_;
	readings_open(&readings);
	state[2] = (unsigned short)seed_take(5);
	return 0;
}

static int
close_readings(void **state_)
{
	(void)state_;
	readings_close(&readings);
	return 0;
}

static double
normal(double mean, double sd)
{
	double sum = -6;

	for (int i = 0; i < 12; i++)
		sum += erand48(state);
	return mean + sd * sum;
}

static double
half_normal(double mean, double sd)
{
	return mean + fabs(normal(0, sd));
}

/* A number depends on the one before it by 0.6. */
static double
dependent(double mean, double sd)
{
	static double before;

	before = 0.6 * before + normal(0, 0.8 * sd);
	return mean + before;
}

static void
write_file(size_t count, double (*draw)(double, double), double mean, double sd)
{
	FILE *file = fopen(readings.csv, "w");

	assert_non_null(file);
	fputs("x\n", file);
	for (size_t i = 0; i < count; i++)
		fprintf(file, "%.17g\n", draw(mean, sd));
	assert_int_equal(fclose(file), 0);
}

#define figure(key) readings_figure(&readings, key)
#define run(...) plant_run_command(plant, "capability", readings.csv, __VA_ARGS__)

/* Values of which nothing withholds an index: one draw of ten is called unstable, dependent or not
 * normal by chance. */
static void
write_quotable(size_t count)
{
	const char *cpk = NULL;

	for (int draws = 0; draws < 50; draws++) {
		write_file(count, normal, 5, 0.4);
		run("--lower", "2", "--upper", "8", "--format", "json");
		cpk = strstr(plant->out, "\"cpk\"");
		assert_non_null(cpk);
		if (strncmp(strstr(cpk, "\"quotable\": "), "\"quotable\": true", 16) ==
		    0)
			return;
	}
	fail_msg("no Cpk of %zu perfect values is quotable", count);
}

/* --- what the indices rest on ------------------------------------------------------------ */

static void
single_values_are_told_by_what_was_used(void **state_)
{
	(void)state_;
	write_quotable(160);
	run("--lower", "2", "--upper", "8");
	assert_says(plant->out, "in 3 deviations");
	assert_says(plant->out, "of the mean to the nearer limit");
	assert_says(plant->out, "from one value to the next (mean moving range / d2)");
	assert_says(plant->out, "Interval of Ppk after Bissell");
	assert_says(plant->out, ", of Pp by chi-square; 'at least'");
	assert_says(plant->out, "by the noncentral t");
	assert_says(plant->out, "degrees of freedom of the moving ranges");
	assert_tells_not(plant->out, "subgroup");
	assert_tells_not(plant->out, "about 95 %");
	assert_tells_not(plant->out, "percentiles");
	/* with one limit there is no Pp */
	run("--upper", "8");
	assert_tells_not(plant->out, "chi-square");
	run("--rules", "none");
	assert_tells_not(plant->out, "Bissell");
}

static void
subgroups_are_told_as_subgroups(void **state_)
{
	(void)state_;
	write_quotable(160);
	run("--lower", "2", "--upper", "8", "--subgroup", "5");
	assert_says(plant->out, "by the scatter within subgroups: nearer limit");
	assert_says(plant->out, "within subgroups (pooled / c4)");
	assert_says(plant->out, "degrees of freedom of the pooled deviation");
	assert_tells_not(plant->out, "one value to the next");
	assert_tells_not(plant->out, "neighbours");
	run("--lower", "2", "--upper", "8", "--subgroup", "5", "--method",
	    "mean-range");
	assert_says(plant->out, "degrees of freedom of the subgroups' ranges");
	write_file(30, normal, 5, 0.4);
	run("--lower", "2", "--upper", "8", "--subgroup", "5");
	assert_says(plant->out, "only 6 complete subgroups of 5 values, at least 20");
	assert_tells_not(plant->out, "follow directly");
}

static void
what_is_bounded_at_zero_is_told_by_percentiles(void **state_)
{
	(void)state_;
	write_file(160, half_normal, 0, 1);
	run("--upper", "8", "--zero-bounded");
	assert_says(plant->out, "of the median to the nearer limit");
	assert_says(plant->out, "over median to 99.865 %");
	assert_says(
	    plant->out, "of every distribution that fits and is nearly as likely");
	assert_says(plant->out, "interval, about 95 %");
	assert_says(plant->out, "(about 95 %)");
	assert_tells_not(plant->out, "Bissell");
	assert_tells_not(plant->out, "deviations of the mean");
	assert_tells_not(plant->out, "in 3 deviations");
	assert_tells_not(plant->out, "noncentral");
	/* and its stability in its own unit */
	assert_says(plant->out, "Stable: no value outside");
	assert_says(plant->out, "deviations of a normal distribution)");
	assert_says(plant->out, "one side of the median");
	assert_says(plant->out, "moving average of the values' normal scores");
}

static double
skewed(double mean, double sd)
{
	return mean + exp(normal(0, sd));
}

static void
values_that_are_not_normal_have_the_index_of_what_fits(void **state_)
{
	int draws = 0;

	(void)state_;
	do { /* of one in ten nothing fits by chance */
		write_file(200, skewed, 0, 0.6);
		run("--lower", "0.01", "--upper", "40");
	} while (!strstr(plant->out, "Ppk of ") && ++draws < 20);
	assert_says(plant->out, "Ppk of ");
	assert_says(plant->out, "of the median, by percentiles");
	assert_says(plant->out, "withheld");
	assert_says(
	    plant->out, "Not normal (p below 0.005): the verdict rests on the index");
	assert_tells_not(plant->out, "Bissell");
	assert_says(plant->out, "of such values shows one is not known");
	run("--lower", "0.01", "--upper", "40", "--format", "json");
	assert_tells(plant->out, "\"by_percentiles\": true");
	assert_true(isfinite(figure("index")));
}

static void
an_index_below_is_open_until_its_upper_bound_is_too(void **state_)
{
	int draws = 0;

	(void)state_;
	do { /* 1.33 lies between index and upper bound in most draws */
		write_file(30, normal, 5, 0.5);
		run("--lower", "3.2", "--upper", "6.8", "--format", "json");
	} while (
	    !(figure("index") < 1.33 && figure("upper_bound") > 1.34) && ++draws < 50);
	assert_tells(plant->out, "\"verdict\": \"not-established\"");
	run("--lower", "3.2", "--upper", "6.8");
	assert_says(plant->out, "it is at most ");
	assert_says(plant->out, "More values decide it");
	run("--lower", "4.5", "--upper", "5.5");
	assert_says(plant->out, "not capable: ");
	assert_says(plant->out, "of 30 values lie beyond a limit; that many");
	assert_tells_not(plant->out, "More values decide it");
}

static void
a_value_that_stands_out_is_told_in_its_unit(void **state_)
{
	FILE *file;

	(void)state_;
	write_file(100, normal, 5, 1);
	file = fopen(readings.csv, "a");
	assert_non_null(file);
	fputs("19.87\n", file);
	fclose(file);
	run("--upper", "30");
	assert_says(plant->out, "value 101, 19.87, lies outside");
	assert_says(plant->out, "deviations of a value)");
}

static void
values_that_depend_on_each_other_have_bounds_that_hold_about(void **state_)
{
	(void)state_;
	write_file(300, dependent, 5, 0.3);
	run("--lower", "2", "--upper", "8");
	assert_says(plant->out, "are widened, since the 300 values depend");
	assert_says(plant->out, "interval, about 95 %");
	assert_tells_not(plant->out, "Bissell");
	assert_tells_not(plant->out, "noncentral");
}

/* --- the same thing once ------------------------------------------------------------------ */

static void
two_figures_for_one_thing_are_told_apart(void **state_)
{
	(void)state_;
	write_file(60, normal, 5, 0.4);
	run("--lower", "2", "--upper", "8");
	assert_says(plant->out, "adjusted for the number of values");
	assert_says(plant->out, "by its published formula");
	assert_says(plant->out,
	    "the normal one has n in its deviation, where all other figures "
	    "have n - 1");
	assert_says(plant->out, "it allows for values that are rounded");
}

static void
what_stable_can_miss_is_told(void **state_)
{
	(void)state_;
	write_quotable(68);
	run("--lower", "2", "--upper", "8");
	assert_says(plant->out,
	    "of series of 30, 68, 160 and 300 values with a step of one deviation "
	    "midway, 26, 40, 61 and 73 % are found unstable");
}

static void
that_all_lie_beyond_is_told_first(void **state_)
{
	FILE *file = fopen(readings.csv, "w");

	(void)state_;
	assert_non_null(file);
	fputs("x\n", file);
	for (int i = 0; i < 30; i++)
		fputs("5\n", file);
	fclose(file);
	run("--upper", "4");
	assert_int_equal(plant->code, COMMAND_NO);
	assert_says(plant->out, "every single value lies beyond the limits");
	assert_says(plant->out, "Not one value lies within the limits: see first");
	assert_tells_not(plant->out, "finer resolution");
	run("--upper", "6");
	assert_says(plant->out, "finer resolution");
	write_file(60, normal, 5, 1);
	run("--lower", "4", "--upper", "6");
	assert_says(plant->out, "of 60 values lie beyond a limit; ");
}

static void
a_gap_and_charts_with_a_memory_are_told_in_good_grammar(void **state_)
{
	FILE *file = fopen(readings.csv, "w");

	(void)state_;
	assert_non_null(file);
	fputs("x\n", file);
	for (int i = 0; i < 40; i++)
		fprintf(file, "%.3f\n", 5 + 0.1 * (i % 7 - 3));
	fputs("nan\n5.1\n\n", file);
	fclose(file);
	run("--lower", "2", "--upper", "8", "--ewma", "0.2,3", "--cusum", "0.5,5");
	assert_says(plant->out, "1 value is missing;");
	assert_says(plant->out, "1 empty line at the end of the file is not counted");
	assert_says(plant->out, "Exponentially weighted moving average: ");
	assert_says(plant->out, "beyond its limits never.");
	assert_tells_not(plant->out, "at 0 ");
	readings_write(readings.csv, "x\n1\n2\n3\n");
	run("--rules", "all");
	assert_says(plant->out, "shows at least one in less than 1 % of cases");
	readings_write(readings.csv, "x\n5\n");
	run("--lower", "2", "--upper", "8");
	assert_says(plant->out, "too few values: 1, at least 25");
	assert_tells_not(plant->out, "1 values");
}

/* --- for machines --------------------------------------------------------------------------- */

static void
no_values_have_no_fit(void **state_)
{
	(void)state_;
	readings_write(readings.csv, "x\n");
	run("--lower", "2", "--upper", "8", "--format", "json");
	assert_tells(plant->out, "\"fit\": null");
	readings_write(readings.csv, "x\n3\n4\n5\n");
	run("--lower", "2", "--upper", "8", "--format", "json");
	assert_tells(plant->out, "\"distribution\": \"normal\"");
}

/* x_i - m: -2, -1, 1, 2, then a gap, then 0; of 10 squares 2 - 1 + 2 in neighbours. */
static void
the_autocorrelation_is_the_textbooks_and_that_of_the_pairs(void **state_)
{
	(void)state_;
	readings_write(readings.csv, "x\n1\n2\n4\n5\nnan\n3\n");
	run("--format", "json");
	assert_near(figure("lag1"), 0.3, 1e-12);
	assert_near(figure("bound"), 1.96 / sqrt(5), 1e-12);
	assert_near(figure("lag1_of_pairs"), 0.3 * 4 / 3, 1e-12);
	assert_near(figure("bound_of_pairs"), 1.96 / 2, 1e-12);
}

/* --- refused ----------------------------------------------------------------------------------- */

static void
values_below_zero_that_cannot_be_are_refused(void **state_)
{
	(void)state_;
	readings_write(readings.csv, "x\n1\n-0.5\n2\n");
	run("--upper", "8", "--zero-bounded");
	assert_int_equal(plant->code, COMMAND_CANNOT);
	assert_string_equal(plant->out, "");
	assert_tells(
	    plant->err, ":3: 'x' is '-0.5', is below zero, but --zero-bounded");
	run("--upper", "8");
	assert_int_equal(plant->code, COMMAND_NO);
}

static void
a_file_of_carriage_returns_is_refused(void **state_)
{
	(void)state_;
	readings_write(readings.csv, "x\r1\r2\r");
	run("--upper", "8");
	assert_int_equal(plant->code, COMMAND_CANNOT);
	assert_tells(plant->err, ":1: has a carriage return within it");
}

/* --- the gauge ----------------------------------------------------------------------------------- */

static void
a_gauge_that_does_not_do_is_a_no(void **state_)
{
	static const char head[] = "p,o,v\n";
	FILE *file;

	(void)state_;
	for (int bad = 0; bad < 2; bad++) {
		file = fopen(readings.csv, "w");
		assert_non_null(file);
		fputs(head, file);
		for (int i = 0; i < 40; i++)
			fprintf(file, "p%d,o%d,%.17g\n", i / 4, i % 2,
			    i / 4 + normal(0, bad ? 2 : 0.05));
		fclose(file);
		run("--gauge", "p,o,v");
		assert_int_equal(plant->code, bad ? COMMAND_NO : COMMAND_DONE);
		assert_says(
		    plant->out, bad ? "does not do to judge a process by (at most 30 %"
				    : "it does to judge a process by (at most 30 %");
		run("--gauge", "p,o,v", "--format", "json");
		assert_int_equal(plant->code, bad ? COMMAND_NO : COMMAND_DONE);
	}
	readings_write(readings.csv,
	    "p,o,v\na,x,1\na,x,1\na,y,1\na,y,1\nb,x,2\nb,x,2\nb,y,2\nb,y,2\n");
	run("--gauge", "p,o,v");
	assert_int_equal(plant->code, COMMAND_NO);
	assert_says(plant->out, "agree exactly");
}

static void
help_says_how_gaps_and_lines_are_treated(void **state_)
{
	(void)state_;
	plant_run_command(plant, "capability", "--help");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_says(plant->out,
	    "Across a gap patterns (--rules) begin anew, EWMA and CUSUM "
	    "go on");
	assert_says(plant->out, "within takes the line itself in");
	assert_says(plant->out, "exits 1 when measuring has more than 30 %");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(single_values_are_told_by_what_was_used),
	    cmocka_unit_test(subgroups_are_told_as_subgroups),
	    cmocka_unit_test(what_is_bounded_at_zero_is_told_by_percentiles),
	    cmocka_unit_test(values_that_are_not_normal_have_the_index_of_what_fits),
	    cmocka_unit_test(an_index_below_is_open_until_its_upper_bound_is_too),
	    cmocka_unit_test(a_value_that_stands_out_is_told_in_its_unit),
	    cmocka_unit_test(
		values_that_depend_on_each_other_have_bounds_that_hold_about),
	    cmocka_unit_test(two_figures_for_one_thing_are_told_apart),
	    cmocka_unit_test(what_stable_can_miss_is_told),
	    cmocka_unit_test(that_all_lie_beyond_is_told_first),
	    cmocka_unit_test(a_gap_and_charts_with_a_memory_are_told_in_good_grammar),
	    cmocka_unit_test(no_values_have_no_fit),
	    cmocka_unit_test(
		the_autocorrelation_is_the_textbooks_and_that_of_the_pairs),
	    cmocka_unit_test(values_below_zero_that_cannot_be_are_refused),
	    cmocka_unit_test(a_file_of_carriage_returns_is_refused),
	    cmocka_unit_test(a_gauge_that_does_not_do_is_a_no),
	    cmocka_unit_test(help_says_how_gaps_and_lines_are_treated),
	};

	return cmocka_run_group_tests(tests, open_readings, close_readings);
}
