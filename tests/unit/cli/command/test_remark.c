/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/unit/cli/command/plant.h"

#include "cli/command/remark.h"

static struct settings *settings;

static int
load_settings(void **state)
{
	static struct problems problems;

	(void)state;
	settings = settings_load("conf/demo.ini", &problems);
	return settings ? 0 : -1;
}

static int
free_settings(void **state)
{
	(void)state;
	settings_free(settings);
	return 0;
}

/* A complete shot of recipe 12 with all key figures inside the demo's limits. */
static struct ledger_shot
good_shot(void)
{
	static const struct {
		int feature;
		double value;
	} figures[] = {
	    {FEATURE_HEAT_S, 152},
	    {FEATURE_SAG_S, 147},
	    {FEATURE_EXIT_TOP_C, 182},
	    {FEATURE_EXIT_BOTTOM_C, 176},
	    {FEATURE_TOOL_SPREAD_OF_MEANS_DC, 0.4},
	    {FEATURE_ENERGY_KWH, 2.96},
	    {FEATURE_CYCLE_S, 180},
	};
	struct ledger_shot shot = {
	    .shot_no = 1, .recipe = "12", .outcome = SHOT_COMPLETE};

	for (int id = 0; id < FEATURE_COUNT; id++) {
		shot.value[id] = NAN;
		shot.absent[id] = ABSENT_NOT_CONFIGURED;
	}
	for (size_t i = 0; i < sizeof figures / sizeof figures[0]; i++) {
		shot.value[figures[i].feature] = figures[i].value;
		shot.absent[figures[i].feature] = ABSENT_NOT;
	}
	return shot;
}

static void
expect(const struct ledger_shot *shot, const char *wanted)
{
	char text[REMARK_TEXT];

	remark_on(settings, shot, text);
	assert_string_equal(text, wanted);
}

static void
a_good_shot_has_none(void **state)
{
	const struct ledger_shot shot = good_shot();

	(void)state;
	expect(&shot, "");
}

static void
the_reason_comes_first_and_in_words(void **state)
{
	static const struct {
		enum shot_outcome outcome;
		uint32_t flags;
		const char *reason, *remark;
	} rows[] = {
	    {SHOT_PARTIAL, SHOT_FLAG_LOGGER_START, "in the machine when logging began",
		"partial: in the machine when logging began"},
	    {SHOT_PARTIAL, SHOT_FLAG_GAP,
		"the machine's signals were missing as it moved",
		"partial: the machine's signals were missing as it moved"},
	    {SHOT_TIMER_RELEASE, SHOT_FLAG_TIMER,
		"no sag after 230 s: released by the timer",
		"timer release: no sag after 230 s: released by the timer"},
	    {SHOT_STARTUP, SHOT_FLAG_STARTUP | SHOT_FLAG_GAP,
		"among the first 3 after a stop",
		"startup: among the first 3 after a stop; polls missing"},
	    {SHOT_INTERRUPTED, SHOT_FLAG_FAULT,
		"40 s of machine fault with it in the oven",
		"interrupted: 40 s of machine fault with it in the oven"},
	    {SHOT_INTERRUPTED, SHOT_FLAG_FAULT, "14 min in the oven",
		"interrupted: 14 min in the oven; machine fault"},
	    {SHOT_ABORTED, SHOT_FLAG_SHORT_HEAT | SHOT_FLAG_STARTUP,
		"only 9 s in oven-b", "aborted: only 9 s in oven-b; just after a stop"},
	    {SHOT_ABORTED, SHOT_FLAG_SHORT_HEAT | SHOT_FLAG_DOUBLE_INDEX,
		"only 9 s in the oven",
		"aborted: only 9 s in the oven; the line moved on twice"},
	    {SHOT_SCRAPPED, 0, "gone before the form station",
		"scrapped: gone before the form station"},
	    {SHOT_REHEATED, SHOT_FLAG_REHEAT, "", "reheated"},
	    {SHOT_COMPLETE, SHOT_FLAG_LATE_FORM, "", "platens closed late"},
	    {SHOT_EMPTY, 0, "no sheet in the frame", "empty: no sheet in the frame"},
	};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct ledger_shot shot = good_shot();
		shot.outcome = rows[i].outcome;
		shot.flags = rows[i].flags;
		snprintf(shot.reason, sizeof shot.reason, "%s", rows[i].reason);
		expect(&shot, rows[i].remark);
	}
}

static void
every_flag_has_words_of_its_own(void **state)
{
	char all[REMARK_TEXT], one[REMARK_TEXT];

	(void)state;
	remark_flags((1u << SHOT_FLAG_BITS) - 1, all);
	assert_true(strlen(all) < REMARK_TEXT - 1);
	for (int bit = 0; bit < SHOT_FLAG_BITS; bit++) {
		remark_flags(1u << bit, one);
		assert_true(*one != '\0');
		assert_tells(all, one);
		for (int other = 0; other < bit; other++) {
			char words[REMARK_TEXT];
			remark_flags(1u << other, words);
			assert_string_not_equal(one, words);
		}
	}
	remark_flags(0, one);
	assert_string_equal(one, "");
}

static void
limits_are_about_parts_that_were_made(void **state)
{
	struct ledger_shot shot = good_shot();

	(void)state;
	shot.value[FEATURE_EXIT_TOP_C] = 170; /* 338 F; the limit is 345 F */
	shot.value[FEATURE_TRANSFER_S] = 15;  /* the limit is 14 s */
	shot.absent[FEATURE_TRANSFER_S] = ABSENT_NOT;
	expect(&shot, "top 338.0 F below 345.0; transfer 15.0 s above 14.0");
	shot.outcome = SHOT_TIMER_RELEASE;
	expect(&shot,
	    "timer release; top 338.0 F below 345.0; transfer 15.0 s above 14.0");
	shot.outcome = SHOT_PARTIAL;
	expect(&shot, "partial");
	shot.outcome = SHOT_SCRAPPED;
	expect(&shot, "scrapped");
}

static void
key_figures_that_a_whole_shot_lacks_are_told(void **state)
{
	struct ledger_shot shot = good_shot();

	(void)state;
	shot.value[FEATURE_EXIT_TOP_C] = NAN;
	shot.absent[FEATURE_EXIT_TOP_C] = ABSENT_SENSOR_FAULT;
	shot.value[FEATURE_CYCLE_S] = NAN;
	shot.absent[FEATURE_CYCLE_S] = ABSENT_NOT_APPLICABLE;
	shot.value[FEATURE_SAG_S] = NAN;
	shot.absent[FEATURE_SAG_S] = ABSENT_NOT_CONFIGURED;
	expect(&shot, "no top: sensor fault");
	shot.outcome = SHOT_EMPTY;
	expect(&shot, "empty");
}

static void
a_mean_of_fewer_pyrometers_is_told(void **state)
{
	struct ledger_shot shot = good_shot();

	(void)state;
	for (int i = 0; i < 3; i++) {
		shot.absent[FEATURE_EXIT_TOP_FIRST + i] = ABSENT_NOT;
		shot.absent[FEATURE_EXIT_BOTTOM_FIRST + i] = ABSENT_NOT;
	}
	expect(&shot, "");
	shot.absent[FEATURE_EXIT_TOP_FIRST + 1] = ABSENT_SENSOR_FAULT;
	expect(&shot, "top: 2 of 3 pyrometers");
	shot.absent[FEATURE_EXIT_BOTTOM_FIRST] = ABSENT_LOW_COVERAGE;
	shot.absent[FEATURE_EXIT_BOTTOM_FIRST + 2] = ABSENT_COMM_FAULT;
	expect(&shot, "top: 2 of 3 pyrometers; bottom: 1 of 3 pyrometers");
	for (int i = 0; i < 3; i++)
		shot.absent[FEATURE_EXIT_TOP_FIRST + i] = ABSENT_SENSOR_FAULT;
	shot.value[FEATURE_EXIT_TOP_C] = NAN;
	shot.absent[FEATURE_EXIT_TOP_C] = ABSENT_SENSOR_FAULT;
	expect(&shot, "no top: sensor fault; bottom: 1 of 3 pyrometers");
	shot.outcome = SHOT_STARTUP;
	expect(&shot, "startup");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_good_shot_has_none),
	    cmocka_unit_test(the_reason_comes_first_and_in_words),
	    cmocka_unit_test(every_flag_has_words_of_its_own),
	    cmocka_unit_test(limits_are_about_parts_that_were_made),
	    cmocka_unit_test(key_figures_that_a_whole_shot_lacks_are_told),
	    cmocka_unit_test(a_mean_of_fewer_pyrometers_is_told),
	};
	return cmocka_run_group_tests(tests, load_settings, free_settings);
}
