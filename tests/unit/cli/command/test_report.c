/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "cli/population/population.h"
#include "cli/wording/shown.h"
#include "daemon/base/text.h"
#include "tests/unit/cli/command/plant.h"
#include "tests/unit/near.h"

static int
open_plant(void **state)
{
	static struct plant plant;

	plant_open(&plant);
	*state = &plant;
	return 0;
}

static int
close_plant(void **state)
{
	plant_close(*state);
	return 0;
}

/* The number after "key": in the first row of a population's JSON that holds `row`. */
static double
number_of(const char *json, const char *row, const char *key)
{
	char quoted[64];
	const char *populations = strstr(json, "\"populations\"");
	const char *at = populations ? strstr(populations, row) : NULL;

	snprintf(quoted, sizeof quoted, "\"%s\": ", key);
	at = at ? strstr(at, quoted) : NULL;
	if (!at)
		fail_msg("no '%s' after '%s' in:\n%s", key, row, json);
	return strtod(at + strlen(quoted), NULL);
}

static void
a_shift_without_shots_says_so_and_exits_one(void **state)
{
	struct plant *plant = *state;

	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	assert_int_equal(plant->code, COMMAND_NO);
	assert_tells(plant->err, "there are no shots");
	plant_run(plant, 1, 30);
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--shift",
	    "late", "--date", "2026-03-02");
	assert_int_equal(plant->code, COMMAND_NO);
	assert_tells(plant->out, "there are no shots in this time");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--shift",
	    "late", "--date", "2026-03-02", "--format", "json");
	assert_int_equal(plant->code, COMMAND_NO);
	assert_tells(plant->out, "\"shots\": 0");
}

static void
the_figures_are_those_of_the_complete_shots(void **state)
{
	struct plant *plant = *state;
	double sum = 0, squares = 0;
	enum { N = 60 };

	/* sag 146 and 148 in turn, about 147: s = sqrt(N / (N - 1)) */
	for (int no = 1; no <= N; no++) {
		struct shot *shot = plant_shot(plant, no);
		double value = no % 2 ? 146 : 148;
		sum += value;
		squares += (value - 147) * (value - 147);
		shot->value[FEATURE_SAG_S] = value;
		plant_write(plant, shot);
	}
	struct shot *aborted = plant_shot(plant, N + 1);
	aborted->outcome = SHOT_ABORTED;
	aborted->value[FEATURE_SAG_S] = 1000;
	snprintf(aborted->reason, sizeof aborted->reason, "not formed");
	plant_write(plant, aborted);

	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", "json");
	assert_int_equal(plant->code, COMMAND_DONE);
	double sd = sqrt(squares / (N - 1));
	const char *row = "\"characteristic\": \"sag_s\"";
	assert_near(number_of(plant->out, row, "n"), N, 0);
	assert_near(number_of(plant->out, row, "mean"), sum / N, 1e-12);
	assert_near(number_of(plant->out, row, "sd"), sd, 1e-12);
	/* the demo's limits: 120 and 180 s */
	assert_near(number_of(plant->out, row, "ppk"), 27 / (3 * sd), 1e-10);
	assert_near(number_of(plant->out, row, "pp"), 60 / (6 * sd), 1e-10);
	/* every moving range is 2: s within = 2 / d2(2) */
	assert_near(number_of(plant->out, row, "cpk"),
	    27 / (3 * 2 / 1.1283791670955126), 1e-10);
	assert_tells(plant->out, "\"reason\": \"not formed\", \"shots\": 1, "
				 "\"shot_nos\": \"61\"");
}

static void
numbers_that_are_missing_are_told(void **state)
{
	struct plant *plant = *state;

	for (int no = 12; no <= 171; no++)
		if ((no < 31 || no > 41) && no != 52)
			plant_write(plant, plant_shot(plant, no));
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T06:00");
	assert_tells(plant->out, "\nof the numbers 12 to 171 are missing in this "
				 "ledger: 31-41, 52\n");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T06:00", "--format", "json");
	assert_tells(plant->out, "{\"first_shot_no\": 31, \"last_shot_no\": 41, "
				 "\"shots\": 11},");
	assert_tells(plant->out, "{\"first_shot_no\": 52, \"last_shot_no\": 52, "
				 "\"shots\": 1}");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T06:00", "--format", "csv");
	assert_tells_not(plant->out, "missing");
	/* 53 to 171 */
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T08:38", "--format", "json");
	assert_tells(plant->out, "\"missing\": []");
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-03T08:38", "--format", "json");
	assert_tells(plant->out, "\"missing\": []"); /* nor any shots */
}

static void
so_many_numbers_are_missing_that_not_all_are_told(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 101; no += 2)
		plant_write(plant, plant_shot(plant, no));
	plant_run_command(plant, "report", "--ledger", plant->ledger_path, "--from",
	    "2026-03-02T06:00");
	assert_says(plant->out, "ledger: 2, 4, 6, 8, 10,");
	assert_says(plant->out, ", 78, 80 and at 10 more places");
}

static void
a_withheld_cpk_is_told_with_its_reason_and_stays_in_json(void **state)
{
	struct plant *plant = *state;
	double level = 0;

	for (int no = 1; no <= 120; no++) {
		struct shot *shot = plant_shot(plant, no);
		level = 0.6 * level + plant_normal(plant);
		shot->value[FEATURE_SAG_S] = 150 + level;
		plant_write(plant, shot);
	}
	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	assert_tells(plant->out, "sag_s: Cp and Cpk withheld: a value depends on");
	assert_tells(plant->out, "sag_s: the intervals of Pp and Ppk are widened for "
				 "that dependence and approximate");
	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", "json");
	const char *row = "\"characteristic\": \"sag_s\"";
	assert_true(number_of(plant->out, row, "cpk") > 0);
	assert_tells(strstr(strstr(plant->out, "\"populations\""), row),
	    "\"cpk_quotable\": false, "
	    "\"cpk_withheld\": \"a value depends");
}

static void
a_withheld_interval_is_null_and_told_in_words(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 60; no++) {
		struct shot *shot = plant_shot(plant, no);
		double p = (no - 0.5) / 60; /* rises all the time, near to normal */
		shot->value[FEATURE_SAG_S] = 150 + log(p / (1 - p));
		plant_write(plant, shot);
	}
	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	assert_tells(plant->out, "sag_s: Pp and Ppk have no interval: too dependent");
	assert_tells(plant->out, " (too dependent)");
	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", "json");
	const char *row = "\"characteristic\": \"sag_s\"";
	assert_true(number_of(plant->out, row, "pp") > 0);
	assert_true(number_of(plant->out, row, "ppk") > 0);
	assert_true(number_of(plant->out, row, "n_effective") < 12);
	row = strstr(strstr(plant->out, "\"populations\""), row);
	assert_tells(row, "\"pp_low\": null, \"pp_high\": null");
	assert_tells(row, "\"ppk_low\": null, \"ppk_high\": null, "
			  "\"ppk_least\": null, \"ppk_quotable\": true");
	assert_tells(row, "\"ppk_interval_withheld\": \"too dependent\"");
}

static void
populations_are_never_pooled(void **state)
{
	struct plant *plant = *state;

	plant_run(plant, 1, 80);
	for (int no = 81; no <= 110; no++) {
		struct shot *shot = plant_shot(plant, no);
		shot->recipe = 31;
		plant_write(plant, shot);
	}
	plant_context(plant, CONTEXT_LOT, "A-0412", 0);
	plant_context(plant, CONTEXT_LOT, "A-0413", 41);
	plant_context(plant, CONTEXT_TOOL, "T-117", 0);
	plant_context(plant, CONTEXT_TOOL, "T-204", 81);
	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out,
	    "recipe 12 (pond-basin), tool T-117, 2 lots: 77 complete shots");
	const char *rows = strstr(plant->out, "Against limits\n");
	assert_tells(rows, "\n  sag_s                    A-0412  s     37 ");
	assert_tells(rows, "\n  sag_s                    A-0413  s     40 ");
	const char *last =
	    strstr(plant->out, "recipe 31 (bin-lid), tool T-204, lot A-0413, hdpe: 30");
	assert_non_null(last);
	/* the limits of exit_top_c and sag_s are recipe 12's */
	const char *against = strstr(last, "Against limits");
	assert_non_null(against);
	const char *without = strstr(against, "Without limits");
	assert_non_null(without);
	assert_true(strstr(against, "exit_top_c") > without);
	assert_tells(plant->out, "startup  among the first 3 after a stop      3  1-3");
}

static void
below_twenty_five_it_is_too_few(void **state)
{
	struct plant *plant = *state;

	plant_run(plant, 1, 27); /* 3 of them start-up */
	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	assert_int_equal(plant->code, COMMAND_DONE);
	assert_tells(plant->out, "too few: 24 complete shots, at least 25 are needed");
	plant_write(plant, plant_shot(plant, 28));
	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	assert_tells_not(plant->out, "too few: ");
}

static void
absent_values_are_counted_with_their_reason(void **state)
{
	struct plant *plant = *state;

	plant_run(plant, 1, 60);
	for (int no = 61; no <= 63; no++) {
		struct shot *shot = plant_shot(plant, no);
		shot->value[FEATURE_TRANSFER_S] = NAN;
		shot->absent[FEATURE_TRANSFER_S] = ABSENT_LOW_COVERAGE;
		plant_write(plant, shot);
	}
	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", "json");
	assert_tells(plant->out, "{\"feature\": \"transfer_s\", \"reason\": "
				 "\"low_coverage\", \"shots\": 3, \"shot_nos\": "
				 "\"61-63\"}");
	assert_near(
	    number_of(plant->out, "\"characteristic\": \"transfer_s\"", "n"), 57, 0);
}

static void
shots_outside_a_limit_are_listed_and_marked(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 60; no++) {
		struct shot *shot = plant_shot(plant, no);
		if (no >= 31 && no <= 33) /* 3.65 F; the limit is 2.0 F */
			shot->value[FEATURE_TOOL_SPREAD_OF_MEANS_DC] = 3.65 / 1.8;
		if (no == 7) /* the limits are 120 and 180 s */
			shot->value[FEATURE_SAG_S] = 119;
		if (no == 9)
			shot->value[FEATURE_SAG_S] = 181;
		plant_write(plant, shot);
	}
	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	const char *list = strstr(plant->out, "Outside a limit\n");
	assert_non_null(list);
	assert_tells(list, "sag_s                    below      1  7\n");
	assert_tells(list, "sag_s                    above      1  9\n");
	assert_tells(list, "tool_spread_of_means_dc  above      3  31-33\n");
	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", "json");
	assert_tells(plant->out, "{\"characteristic\": \"sag_s\", \"side\": \"below\", "
				 "\"shots\": 1, \"shot_nos\": \"7\"}");
	assert_tells(plant->out,
	    "{\"characteristic\": \"tool_spread_of_means_dc\", \"side\": \"above\", "
	    "\"shots\": 3, \"shot_nos\": \"31-33\"}");

	plant_run_command(
	    plant, "shots", "--ledger", plant->ledger_path, "--last", "60");
	assert_tells(plant->out, "  spread 3.65 F above 2.00\n");
	assert_tells(plant->out, "  sag 119.0 s below 120.0\n");
	assert_tells(plant->out, "  sag 181.0 s above 180.0\n");
}

static void
a_duration_that_polling_hides_is_told(void **state)
{
	struct plant *plant = *state;

	/* s of transfer_s is 0.4 s and of sag_s 2 s; polling leaves 0.5 s of each */
	plant_run(plant, 1, 60);
	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	assert_tells(plant->out, "transfer_s: s is not above the uncertainty of 0.5 s");
	assert_tells_not(plant->out, "sag_s: s is not above");
	assert_says(plant->out, "'polls missing' marks a shot");
}

static void
people_read_the_site_s_unit_and_machines_celsius(void **state)
{
	struct plant *plant = *state;

	for (int no = 1; no <= 30; no++) {
		struct shot *shot = plant_shot(plant, no);
		shot->value[FEATURE_EXIT_TOP_C] = no % 2 ? 180 : 190;
		shot->value[FEATURE_TOOL_SPREAD_OF_MEANS_DC] = no % 2 ? 0.5 : 1.5;
		plant_write(plant, shot);
	}
	/* mean 185 C is 365.0 F; a spread's mean of 1 K is 1.80 F, not 33.8 */
	plant_run_command(plant, "report", "--ledger", plant->ledger_path);
	assert_tells(plant->out, "365.0");
	assert_tells(plant->out, " 1.80 ");
	plant_run_command(
	    plant, "report", "--ledger", plant->ledger_path, "--format", "json");
	const char *row = "\"characteristic\": \"exit_top_c\"";
	assert_near(number_of(plant->out, row, "mean"), 185, 1e-12);
	row = "\"characteristic\": \"tool_spread_of_means_dc\"";
	assert_near(number_of(plant->out, row, "mean"), 1, 1e-12);
	/* 2.0 F of difference: 1.111 K */
	assert_near(number_of(plant->out, row, "upper"), 2 / 1.8, 1e-12);
	assert_tells(
	    strstr(strstr(plant->out, "\"populations\""), row), "\"unit\": \"K\"");
}

static void
a_series_breaks_where_a_shot_was_left_out(void **state)
{
	int64_t list[] = {4, 5, 7, 8};
	const struct population_features features = {
	    {FEATURE_EXIT_TOP_C, FEATURE_SAG_S}, 2};
	double rows[4 * 2] = {0}, values[4];
	bool breaks[4];
	const struct population population = {.features = &features,
	    .complete = {.list = list, .count = 4},
	    .values = rows};

	(void)state;
	rows[2 * 2 + 1] = 9;
	population_series(&population, FEATURE_SAG_S, values, breaks);
	assert_true(breaks[0] && !breaks[1] && breaks[2] && !breaks[3]);
	assert_near(values[2], 9, 0);
}

static void
numbers_are_told_in_runs(void **state)
{
	int64_t list[] = {1, 2, 3, 7, 9, 10};
	const struct numbers numbers = {list, 6, 6};
	struct text text;

	(void)state;
	text_init(&text, 100);
	numbers_text(&numbers, &text);
	assert_string_equal(text.bytes, "1-3, 7, 9-10");
	text_release(&text);
}

static void
energies_are_shown_as_they_are_filed(void **state)
{
	struct plant *plant = *state;
	struct cell cell = shown_value(plant->settings, FEATURE_ENERGY_KWH, 2.5);

	assert_near(cell.number, 2.5, 0);
	assert_near(cell.shown, 2.5, 1e-12);
	cell = shown_deviation(plant->settings, FEATURE_EXIT_TOP_C, 1);
	assert_near(cell.shown, 1.8, 1e-12);
	cell = shown_value(plant->settings, FEATURE_EXIT_TOP_C, NAN);
	assert_int_equal(cell.kind, CELL_ABSENT);
}

#define with_plant(test) cmocka_unit_test_setup_teardown(test, open_plant, close_plant)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    with_plant(a_shift_without_shots_says_so_and_exits_one),
	    with_plant(the_figures_are_those_of_the_complete_shots),
	    with_plant(numbers_that_are_missing_are_told),
	    with_plant(so_many_numbers_are_missing_that_not_all_are_told),
	    with_plant(a_withheld_cpk_is_told_with_its_reason_and_stays_in_json),
	    with_plant(a_withheld_interval_is_null_and_told_in_words),
	    with_plant(populations_are_never_pooled),
	    with_plant(below_twenty_five_it_is_too_few),
	    with_plant(absent_values_are_counted_with_their_reason),
	    with_plant(shots_outside_a_limit_are_listed_and_marked),
	    with_plant(a_duration_that_polling_hides_is_told),
	    with_plant(people_read_the_site_s_unit_and_machines_celsius),
	    cmocka_unit_test(a_series_breaks_where_a_shot_was_left_out),
	    cmocka_unit_test(numbers_are_told_in_runs),
	    with_plant(energies_are_shown_as_they_are_filed),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
