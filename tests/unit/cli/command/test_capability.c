/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <time.h>

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
	double radius = sqrt(-2 * log(1 - erand48(state)));

	return mean + sd * radius * cos(6.283185307179586 * erand48(state));
}

static void
write_normal(size_t count, double mean, double sd)
{
	FILE *file = fopen(readings.csv, "w");

	assert_non_null(file);
	fputs("x\n", file);
	for (size_t i = 0; i < count; i++)
		fprintf(file, "%.17g\n", normal(mean, sd));
	assert_int_equal(fclose(file), 0);
}

#define figure(key) readings_figure(&readings, key)
#define run(...) plant_run_command(plant, "capability", readings.csv, __VA_ARGS__)

/* Whatever of the page is a number, it is a finite one. */
static void
expect_finite_json(void)
{
	assert_string_equal(plant->err, "");
	assert_tells_not(plant->out, "inf");
	assert_tells_not(plant->out, ": nan");
	assert_tells_not(plant->out, ": -nan");
}

static void
a_good_series_is_capable(void **state_)
{
	(void)state_;
	write_normal(160, 5, 0.4);
	run("--lower", "2", "--upper", "8", "--target", "5", "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	expect_finite_json();
	assert_tells(plant->out, "\"verdict\": \"capable\"");
	assert_near(figure("n"), 160, 0);
	assert_true(figure("cpm") > 2);
	run("--lower", "2", "--upper", "8");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_says(plant->out, "capable: stable over 160 values");
	run("--lower", "2", "--upper", "8", "--format", "csv");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out, ",capable,160,0,");
	run("--lower", "4.5", "--upper", "5.5");
	assert_int_equal(plant->code, COMMAND_NO);
	assert_says(plant->out, "not capable");
	assert_says(plant->out, "Reduce the scatter");
}

static void
nothing_one_and_two_values_are_no_capability(void **state_)
{
	static const char *const files[] = {
	    "x\n", "x\nnan\n\nnan\n", "x\n5\n", "x\n5\n6\n"};
	static const double counts[] = {0, 0, 1, 2};

	(void)state_;
	for (size_t i = 0; i < 4; i++) {
		readings_write(readings.csv, files[i]);
		run("--lower", "2", "--upper", "8", "--rules", "all", "--ewma", "0.2,3",
		    "--cusum", "0.5,5", "--format", "json");
		assert_int_equal(plant->code, COMMAND_NO);
		expect_finite_json();
		assert_tells(plant->out, "\"verdict\": \"not-established\"");
		assert_near(figure("n"), counts[i], 0);
		assert_near(figure("missing"), i == 1 ? 3 : 0, 0);
		assert_true(isnan(figure("sd")) == (counts[i] < 2));
		assert_true(isnan(figure("mean")) == (counts[i] < 1));
		assert_true(isnan(figure("cpm")));
		run("--lower", "2", "--upper", "8");
		assert_int_equal(plant->code, COMMAND_NO);
		assert_says(plant->out, "too few values");
		assert_says(plant->out, "Take at least 25 values");
		run("--upper", "8", "--zero-bounded", "--subgroup", "2", "--format",
		    "html");
		assert_int_equal(plant->code, COMMAND_NO);
	}
}

static void
values_that_are_all_the_same_have_no_index(void **state_)
{
	FILE *file = fopen(readings.csv, "w");

	(void)state_;
	assert_non_null(file);
	fputs("x\n", file);
	for (int i = 0; i < 100; i++)
		fputs("5.1\n", file);
	fclose(file);
	run("--lower", "2", "--upper", "8", "--rules", "all", "--format", "json");
	assert_int_equal(plant->code, COMMAND_NO);
	expect_finite_json();
	assert_near(figure("sd"), 0, 0);
	assert_near(figure("mean"), 5.1, 0);
	assert_tells(plant->out, "\"ppl\": null");
	assert_tells(plant->out, "\"signals\": []");
	assert_tells(plant->out, "\"verdict\": \"not-established\"");
	run("--upper", "8", "--zero-bounded", "--format", "json");
	assert_int_equal(plant->code, COMMAND_NO);
	expect_finite_json();
	run("--lower", "2", "--upper", "8", "--format", "pdf");
	assert_int_equal(plant->code, COMMAND_NO);
}

static void
a_huge_offset_costs_no_digits(void **state_)
{
	FILE *file = fopen(readings.csv, "w");
	double first[200];

	(void)state_;
	assert_non_null(file);
	fputs("x\n", file);
	/* steps of 2^-20, which 1e9 and more keeps exactly */
	for (int i = 0; i < 200; i++) {
		first[i] = round(normal(0, 1) * 1048576) / 1048576;
		fprintf(file, "%.17g\n", 1e9 + first[i]);
	}
	fclose(file);
	run("--lower", "999999995", "--upper", "1000000005", "--format", "json");
	double sd = figure("sd"), ppl = figure("ppl"), a2 = figure("a2");
	file = fopen(readings.csv, "w");
	assert_non_null(file);
	fputs("x\n", file);
	for (int i = 0; i < 200; i++)
		fprintf(file, "%.17g\n", first[i]);
	fclose(file);
	run("--lower", "-5", "--upper", "5", "--format", "json");
	assert_near(figure("sd"), sd, 1e-9);
	assert_near(figure("ppl"), ppl, 1e-6);
	assert_near(figure("a2"), a2, 1e-5);
}

static void
a_million_rows_take_a_moment(void **state_)
{
	struct timespec from, to;

	(void)state_;
	write_normal(1000000, 5, 0.5);
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &from);
	run("--lower", "2", "--upper", "8", "--format", "json");
	clock_gettime(CLOCK_PROCESS_CPUTIME_ID, &to);
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_near(figure("n"), 1000000, 0);
	assert_near(figure("sd"), 0.5, 0.002);
	print_message("a million rows: %.2f s of the processor\n",
	    (double)(to.tv_sec - from.tv_sec) +
		1e-9 * (double)(to.tv_nsec - from.tv_nsec));
}

static void
mistakes_in_the_file_are_told_with_their_lines(void **state_)
{
	char sentence[400];

	(void)state_;
	readings_write(readings.csv, "t;x\n0;1\n1;inf\n2\n3;1e999\n4;1,5\n");
	run("--column", "x", "--lower", "0");
	assert_int_equal(plant->code, COMMAND_CANNOT);
	assert_string_equal(plant->out, "");
	snprintf(sentence, sizeof sentence,
	    "%s:3: 'x' is 'inf', must be a finite number", readings.csv);
	assert_tells(plant->err, sentence);
	assert_tells(plant->err, ":4: 1 cell, must be 2 as the header has");
	assert_tells(plant->err, ":5: 'x' is '1e999'");
	assert_tells(plant->err, "is --decimal-comma meant?");
	run("--column", "y");
	assert_tells(plant->err, ":1: the header has no column 'y'; it has t, x");
	run("--lower", "1");
	assert_tells(plant->err, "there are 2 columns: say which with --column");
}

/* The sentence for what cannot be meant; the file is not looked at. */
static void
what_cannot_be_meant_is_refused(void **state_)
{
	static const struct {
		const char *option, *value, *other, *other_value, *told;
	} rows[] = {
	    {"--lower", "3", "--upper", "3",
		"the lower limit 3 must be below the upper"},
	    {"--lower", "x", NULL, NULL, "'--lower' is 'x', must be a number"},
	    {"--lower", "inf", NULL, NULL, "'--lower' is 'inf', must be a number"},
	    {"--target", "9", "--upper", "8",
		"the target 9 must lie within the limits"},
	    {"--subgroup", "1", NULL, NULL, "must be a whole number, 2..25"},
	    {"--subgroup", "26", NULL, NULL, "must be a whole number, 2..25"},
	    {"--subgroup", "2.5", NULL, NULL, "must be a whole number, 2..25"},
	    {"--method", "mean-sd", NULL, NULL, "needs '--subgroup N'"},
	    {"--method", "individuals", "--subgroup", "5", "leave '--subgroup' out"},
	    {"--method", "meanrange", "--subgroup", "5", "did you mean 'mean-range'?"},
	    {"--ewma", "0,3", NULL, NULL, "must be above 0 and at most 1"},
	    {"--ewma", "2,3", NULL, NULL, "must be above 0 and at most 1"},
	    {"--ewma", "0.2", NULL, NULL, "must be LAMBDA,L"},
	    {"--ewma", "0.2,0", NULL, NULL, "has the limit 0, must be above 0"},
	    {"--cusum", "0.5", NULL, NULL, "must be K,H"},
	    {"--cusum", "-1,5", NULL, NULL, "the slack must be 0 or more"},
	    {"--rules", "nine-one-sid", NULL, NULL, "did you mean 'nine-one-side'?"},
	    {"--rules", "moon", NULL, NULL, "there are one-beyond-3s, two-of-three-"},
	    {"--centre", "5", NULL, NULL, "give '--sigma' too"},
	    {"--sigma", "0", "--centre", "1", "'--sigma' is 0, must be above 0"},
	    {"--zero-bounded", NULL, "--lower", "0", "leave '--lower' out"},
	    {"--zero-bounded", NULL, "--upper", "-1",
		"the upper limit -1 must be above"},
	    {"--required", "0", NULL, NULL, "'--required' is 0, must be 0.1..10"},
	    {"--line", "line-3", NULL, NULL, "takes no '--line'"},
	    {"--gauge", "a,b", NULL, NULL, "must be PART,OPERATOR,VALUE"},
	    {"--gauge", "a,b,c", "--upper", "3", "takes no '--upper'"},
	    {"--characteristic", "cycle_s", NULL, NULL, "not both"},
	    {"--lower", "40", "--lower", "41", "'--lower' is given twice"},
	    {"--zero-bounded", NULL, "--zero-bounded", NULL,
		"'--zero-bounded' is given twice"},
	    {"--lower", NULL, "--upper", "5",
		"'--lower' has no value: '--upper' follows it"},
	    {"--lower", NULL, "--upper=5", NULL,
		"'--lower' has no value: '--upper' follows it"},
	    {"--decimal-comma", NULL, "--lower", "40,5",
		"'--lower' is '40,5', must be a number: with a point, 40.5"},
	    {"--sigma", "0,1,5", "--centre", "1",
		"'--sigma' is '0,1,5', must be a "
		"number\n"},
	};

	(void)state_;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		const char *words[8] = {"capability", "nowhere.csv", rows[i].option};
		size_t count = 3;
		if (rows[i].value)
			words[count++] = rows[i].value;
		if (rows[i].other)
			words[count++] = rows[i].other;
		if (rows[i].other_value)
			words[count++] = rows[i].other_value;
		words[count] = NULL;
		plant_call(plant, words);
		assert_tells(plant->err, rows[i].told);
		assert_int_equal(plant->code, COMMAND_USAGE);
		assert_string_equal(plant->out, "");
	}
	plant_run_command(plant, "capability");
	assert_int_equal(plant->code, COMMAND_USAGE);
	assert_tells(plant->err, "needs FILE.csv, or --characteristic NAME");
}

static void
limits_may_be_negative(void **state_)
{
	(void)state_;
	write_normal(160, -5, 0.4);
	run("--lower", "-8", "--upper=-2", "--target", "-5", "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_near(figure("lower"), -8, 0);
	assert_near(figure("upper"), -2, 0);
}

/* --- the gauge -------------------------------------------------------------------------------- */

/* 5 parts, 3 operators, 2 repeats; mean squares and variances computed with R 4.2 (aov). */
static void
a_gauge_study_equals_the_analysis_of_variance(void **state_)
{
	static const int values[] = {29, 41, 8, 25, 4, -11, -56, -68, -47, -122, -138,
	    -113, 134, 117, 119, 94, 88, 109, 47, 50, 1, 103, 14, 20, -80, -92, -56,
	    -120, -146, -107};
	FILE *file = fopen(readings.csv, "w");

	(void)state_;
	assert_non_null(file);
	fputs("who;mm;part\n", file);
	for (int repeat = 0; repeat < 2; repeat++)
		for (int cell = 14; cell >= 0; cell--)
			fprintf(file, "op%d;%.2f;p%d\n", cell % 3,
			    values[2 * cell + repeat] / 100.0, cell / 3);
	fclose(file);
	run("--gauge", "part,who,mm", "--format", "json");
	assert_int_equal(plant->code, COMMAND_NO); /* more than 30 % */
	assert_near(figure("part"), 4.80757166667, 1e-9);
	assert_near(figure("operator"), 0.42753, 1e-9);
	assert_near(figure("gauge_sd"), 0.350765234879, 1e-9);
	assert_near(figure("total_sd"), 0.959865876047, 1e-9);
	assert_near(figure("percent_of_total_sd"), 36.54315083, 1e-7);
	assert_near(figure("distinct_categories"), 3, 0);
	run("--gauge", "part,who,mm");
	assert_says(plant->out, "36.5 % of the deviation of all measurements");
	readings_write(readings.csv, "p,o,v\na,x,1\na,x,2\na,y,1\na,y,2\nb,x,1\nb,x,2\n"
				     "b,y,3\n");
	run("--gauge", "p,o,v");
	assert_int_equal(plant->code, COMMAND_CANNOT);
	assert_tells(
	    plant->err, "'b' was measured by 'y' 1 time, and 'a' by 'x' 2 times");
	readings_write(readings.csv, "p,o,v\na,x,1\na,x,2\na,y,1\na,y,\n");
	run("--gauge", "p,o,v");
	assert_int_equal(plant->code, COMMAND_CANNOT);
	assert_tells(plant->err, "'a' by 'y' has no value");
}

/* --- the ledger ------------------------------------------------------------------------------- */

static struct plant line;

#define study(...)                                                           \
	plant_run_command(&line, "--ledger", line.ledger_path, "capability", \
	    "--characteristic", __VA_ARGS__)

static void
a_feature_of_the_ledger_is_studied(void **state_)
{
	(void)state_;
	plant_open(&line);
	plant_run(&line, 1, 160);
	study("exit_top_c", "--line", "line-3", "--format", "json");
	assert_string_equal(line.err, "");
	assert_tells(line.out, "\"n\": 157");
	assert_tells(line.out, "\"shots_left_out\": 3");
	/* the demo's limits of recipe 12, 345 F */
	assert_tells(line.out, "\"lower\": 173.888");
	study("exit_top_c", "--lower", "100", "--upper", "300");
	assert_says(line.out, "exit_top_c of line-3");
	assert_int_equal(line.code, COMMAND_DONE);
	study("tool_spread_of_means_dc", "--format", "json");
	assert_tells(line.out, "\"zero_bounded\": true");
	study("exit_tpo_c");
	assert_int_equal(line.code, COMMAND_USAGE);
	assert_tells(line.err, "did you mean 'exit_top_c'?");
	study("cycle_s", "--recipe", "77");
	assert_int_equal(line.code, COMMAND_NO);
	assert_tells(line.err, "no complete shots of that kind on line 'line-3'");
	plant_close(&line);
}

static void
mixed_shots_are_refused_with_the_way_to_choose(void **state_)
{
	(void)state_;
	plant_open(&line);
	plant_context(&line, CONTEXT_LOT, "A-1", 1);
	plant_run(&line, 1, 60);
	plant_context(&line, CONTEXT_LOT, "A-2", 61);
	plant_run(&line, 61, 60);
	study("cycle_s", "--format", "json");
	assert_int_equal(line.code, COMMAND_NO);
	assert_tells(line.out, "\"verdict\": \"not-established\"");
	assert_tells(line.out, "choose one with --lot NAME");
	assert_tells(line.out, "\"variance_between\"");
	study("cycle_s");
	assert_says(line.out, "Within a lot the deviation is");
	study("cycle_s", "--lot", "A-2", "--lower", "170", "--upper", "190");
	assert_says(line.out, "lot A-2");
	assert_int_equal(line.code, COMMAND_DONE);
	struct shot *other = plant_shot(&line, 121);
	other->recipe = 31;
	plant_write(&line, other);
	study("cycle_s");
	assert_int_equal(line.code, COMMAND_NO);
	assert_string_equal(line.out, "");
	assert_tells(
	    line.err, "shots of 2 recipes are mixed: 12 (114 shots), 31 (1 shot)");
	assert_tells(line.err, "choose one with --recipe NUMBER");
	plant_close(&line);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_good_series_is_capable),
	    cmocka_unit_test(nothing_one_and_two_values_are_no_capability),
	    cmocka_unit_test(values_that_are_all_the_same_have_no_index),
	    cmocka_unit_test(a_huge_offset_costs_no_digits),
	    cmocka_unit_test(a_million_rows_take_a_moment),
	    cmocka_unit_test(mistakes_in_the_file_are_told_with_their_lines),
	    cmocka_unit_test(what_cannot_be_meant_is_refused),
	    cmocka_unit_test(limits_may_be_negative),
	    cmocka_unit_test(a_gauge_study_equals_the_analysis_of_variance),
	    cmocka_unit_test(a_feature_of_the_ledger_is_studied),
	    cmocka_unit_test(mixed_shots_are_refused_with_the_way_to_choose),
	};

	return cmocka_run_group_tests(tests, open_readings, close_readings);
}
