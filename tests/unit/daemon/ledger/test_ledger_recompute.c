/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots that are made again under another set-up. */
#include "daemon/ledger/ledger.h"

#include "daemon/ledger/filed.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

static char corrected[] = "[site]\nname = corrected\n";
static char corrected_again[] = "[site]\nname = corrected again\n";

static void
file_setup(char *text)
{
	fixture_text(&fixture, text);
	if (ledger_put_setup(
		ledger, &fixture.settings, seconds(9000), &setup_id, &error) != 0)
		fail_msg("%s", error.text);
}

static struct ledger_shot
shot_on_file(int64_t shot_no)
{
	const struct shots *shots =
	    read_shots((struct ledger_filter){.line = "line-1", .shot_no = shot_no});

	assert_int_equal(shots->count, 1);
	return shots->list[0];
}

/* The same shot as fixture_shot gave the first time. */
static struct shot *
the_first_shot(void)
{
	fixture.random = 1;
	return fixture_shot(&fixture, 0, 1);
}

static bool
put_again(const struct shot *shot)
{
	bool changed = false;

	if (ledger_put_recomputed(ledger, &fixture.settings, shot_on_file(1).id, shot,
		&changed, &error) != 0)
		fail_msg("%s", error.text);
	return changed;
}

struct earlier {
	int count;
	struct ledger_earlier list[FEATURE_COUNT * 3];
};

static int
keep_earlier(void *arg, const struct ledger_earlier *row)
{
	struct earlier *earlier = arg;

	assert_true(earlier->count < FEATURE_COUNT * 3);
	earlier->list[earlier->count++] = *row;
	return 0;
}

static const struct earlier *
read_earlier(int64_t shot_id)
{
	static struct earlier earlier;

	earlier.count = 0;
	assert_int_equal(
	    ledger_read_earlier(reader, shot_id, keep_earlier, &earlier, &error), 0);
	return &earlier;
}

static int64_t
everything(void)
{
	return sql_integer("SELECT (SELECT max(change) FROM shot)"
			   " + 1000 * (SELECT count(*) FROM earlier)"
			   " + 100000 * (SELECT sum(setup) FROM shot)");
}

static void
a_shot_that_comes_out_the_same_changes_nothing(void **state)
{
	struct shot *shot = the_first_shot();
	(void)state;

	shot->value[FEATURE_SAG_S] = NAN;
	shot->absent[FEATURE_SAG_S] = ABSENT_NOT_APPLICABLE;
	shot->value[FEATURE_STACK_C] = -0.0;
	shot->channels[5] =
	    (struct shot_channel){5, NAN, NAN, NAN, NAN, NAN, 0.5, ABSENT_LOW_COVERAGE};
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	assert_false(put_again(shot));
	file_setup(corrected); /* which makes no difference to this shot */
	int64_t before = everything();
	assert_false(put_again(shot));
	assert_int_equal(everything(), before);
	assert_int_equal(shot_on_file(1).setup, 1);
	assert_int_equal(read_earlier(shot_on_file(1).id)->count, 0);
	shot_free(shot);
}

static void
what_differs_is_replaced_and_what_was_there_stays_readable(void **state)
{
	fixture.trace_bytes = 3000;
	struct shot *shot = the_first_shot();
	(void)state;

	shot->value[FEATURE_STACK_C] = NAN;
	shot->absent[FEATURE_STACK_C] = ABSENT_SENSOR_FAULT;
	double old_heat_s = shot->value[FEATURE_HEAT_S],
	       old_sag_s = shot->value[FEATURE_SAG_S];
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	write_shots(0, 2, 2);
	struct ledger_shot before = shot_on_file(1);

	file_setup(corrected);
	shot->value[FEATURE_HEAT_S] += 1;
	shot->value[FEATURE_SAG_S] = NAN; /* had a value */
	shot->absent[FEATURE_SAG_S] = ABSENT_LOW_COVERAGE;
	shot->value[FEATURE_STACK_C] = 21; /* had none */
	shot->absent[FEATURE_STACK_C] = ABSENT_NOT;
	shot->outcome = SHOT_INTERRUPTED;
	shot->flags = SHOT_FLAG_FAULT;
	snprintf(shot->reason, sizeof shot->reason, "held for 9 s");
	snprintf(shot->properties, sizeof shot->properties, "abs 3 00c0ffee");
	shot->channels[0].mean = 77;
	assert_true(put_again(shot));

	struct ledger_shot after = shot_on_file(1);
	assert_int_equal(after.setup, setup_id);
	assert_int_equal(after.change, 3);
	assert_int_equal(after.outcome, SHOT_INTERRUPTED);
	assert_int_equal(after.flags, SHOT_FLAG_FAULT);
	assert_string_equal(after.reason, "held for 9 s");
	assert_string_equal(after.properties, "abs 3 00c0ffee");
	for (int i = 0; i < FEATURE_COUNT; i++) {
		assert_int_equal(after.absent[i], shot->absent[i]);
		if (shot->absent[i] == ABSENT_NOT)
			assert_true(after.value[i] ==
				    filed_number(feature_from_si(i, shot->value[i])));
	}
	assert_int_equal(after.filed_at.ns, before.filed_at.ns);
	assert_string_equal(after.material, before.material);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM shot_channel WHERE shot = 1"),
	    FIXTURE_SHOT_CHANNELS);
	assert_int_equal(
	    sql_integer("SELECT mean FROM shot_channel WHERE shot = 1 LIMIT 1"), 77);
	assert_int_equal(sql_integer("SELECT sum(length(bytes)) FROM trace"), 6000);
	int64_t taken = 0; /* the readings are still those of the first set-up */
	assert_int_equal(ledger_read_trace_setup(reader, after.id, &taken, &error), 0);
	assert_int_equal(taken, 1);
	assert_int_equal(shot_on_file(2).change, 2); /* of the others nothing changes */

	const struct earlier *earlier = read_earlier(after.id);
	assert_int_equal(earlier->count, 5);
	for (int i = 0; i < 5; i++) {
		assert_int_equal(earlier->list[i].change, 1);
		assert_int_equal(earlier->list[i].setup, 1);
		assert_true(earlier->list[i].until.ns > 0);
	}
	assert_string_equal(earlier->list[0].feature, "heat_s");
	assert_true(earlier->list[0].value == filed_number(old_heat_s));
	assert_string_equal(earlier->list[0].text, "");
	assert_string_equal(earlier->list[1].feature, "outcome");
	assert_true(isnan(earlier->list[1].value));
	assert_string_equal(earlier->list[1].text, "complete");
	assert_string_equal(earlier->list[2].feature, "properties");
	assert_true(isnan(earlier->list[2].value));
	assert_string_equal(earlier->list[2].text, "abs 2 4c1a09e2");
	assert_string_equal(earlier->list[3].feature, "sag_s");
	assert_true(earlier->list[3].value == filed_number(old_sag_s));
	assert_string_equal(earlier->list[4].feature, "stack_c");
	assert_true(isnan(earlier->list[4].value));
	assert_string_equal(earlier->list[4].text, "sensor_fault");
	shot_free(shot);
}

static void
earlier_values_come_newest_first(void **state)
{
	struct shot *shot = the_first_shot();
	double first = shot->value[FEATURE_HEAT_S];
	(void)state;

	write_shot_and_free(the_first_shot());
	for (int i = 1; i <= 2; i++) {
		file_setup(i == 1 ? corrected : corrected_again);
		for (int k = 0; k < FEATURE_COUNT; k++)
			shot->value[k] += 1;
		assert_true(put_again(shot));
		assert_false(put_again(shot));
	}
	const struct earlier *earlier = read_earlier(shot_on_file(1).id);
	assert_int_equal(earlier->count, 2 * FIXTURE_FEATURES);
	for (int i = 0; i < earlier->count; i++) {
		const struct ledger_earlier *row = &earlier->list[i];
		assert_int_equal(row->change, i < FIXTURE_FEATURES ? 2 : 1);
		assert_int_equal(row->setup, i < FIXTURE_FEATURES ? 2 : 1);
		if (strcmp(row->feature, "heat_s") == 0)
			assert_true(
			    row->value ==
			    filed_number(first + (i < FIXTURE_FEATURES ? 1 : 0)));
	}
	shot_free(shot);
}

static void
a_feature_that_is_configured_no_more_goes_and_stays_readable(void **state)
{
	struct shot *shot = the_first_shot();
	(void)state;

	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	fixture.lines[0].circuits = fixture.lines[1].circuits = 15;
	file_setup(corrected);
	int last = FEATURE_WATER_RISE_FIRST + 15;
	for (int i = last; i < FEATURE_COUNT; i += FEATURE_CIRCUITS_MAX) {
		shot->value[i] = NAN;
		shot->absent[i] = ABSENT_NOT_CONFIGURED;
	}
	assert_true(put_again(shot));
	assert_int_equal(shot_on_file(1).absent[last], ABSENT_NOT_CONFIGURED);
	const struct earlier *earlier = read_earlier(shot_on_file(1).id);
	assert_int_equal(earlier->count, 5); /* figures of a circuit */
	assert_string_equal(earlier->list[4].feature, "water_rise_16_dc");
	shot_free(shot);
}

/* A shot with none of the features of a family, then made again with all of them. */
static void
bring_circuits(int64_t known_since)
{
	char sql[120];
	sqlite3 *db;
	struct shot *shot = the_first_shot();

	for (int i = FEATURE_WATER_RISE_FIRST; i < FEATURE_WATER_RISE_FIRST + 16; i++) {
		shot->value[i] = NAN;
		shot->absent[i] = ABSENT_NOT_CONFIGURED;
	}
	shot->value[FEATURE_SAG_S] = NAN;
	shot->absent[FEATURE_SAG_S] = ABSENT_NOT_CONFIGURED;
	write_shot_and_free(shot);
	file_setup(corrected);
	snprintf(sql, sizeof sql,
	    "UPDATE feature SET setup = %lld WHERE name LIKE 'water_rise_%%'",
	    (long long)known_since);
	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
	shot = the_first_shot();
	shot->value[FEATURE_HEAT_S] += 1;
	assert_true(put_again(shot));
	assert_false(put_again(shot));
	shot_free(shot);
}

/* As in a ledger of an older program: its table of features says since when. */
static void
features_that_did_not_exist_leave_nothing_earlier(void **state)
{
	(void)state;

	bring_circuits(2);
	const struct earlier *earlier = read_earlier(shot_on_file(1).id);
	assert_int_equal(earlier->count, 2);
	assert_string_equal(earlier->list[0].feature, "heat_s");
	assert_string_equal(earlier->list[1].feature, "not_configured");
	assert_string_equal(earlier->list[1].text, "1 feature");
	assert_int_equal(sql_integer("SELECT text = 'sag_s' FROM earlier"
				     " WHERE feature = 'not_configured'"),
	    1);
}

static void
features_that_were_not_configured_share_a_row_that_names_them(void **state)
{
	(void)state;

	bring_circuits(1);
	const struct earlier *earlier = read_earlier(shot_on_file(1).id);
	assert_int_equal(earlier->count, 2);
	assert_string_equal(earlier->list[1].feature, "not_configured");
	assert_string_equal(earlier->list[1].text, "17 features");
	assert_true(earlier->list[1].value == 17);
	assert_int_equal(earlier->list[1].setup, 1);
	assert_int_equal(
	    sql_integer("SELECT instr(text, 'water_rise_1_dc ') > 0 AND"
			" instr(text, ' water_rise_16_dc') > 0 FROM earlier"
			" WHERE feature = 'not_configured'"),
	    1);
}

/* Of the longest name and version that a configuration can have. */
static void
other_properties_alone_are_difference_enough(void **state)
{
	struct shot *shot = the_first_shot();
	(void)state;

	memset(shot->properties, 'x', sizeof shot->properties - 1);
	shot->properties[sizeof shot->properties - 1] = '\0';
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	assert_false(put_again(shot));
	char longest[sizeof shot->properties];
	text_copy(longest, sizeof longest, shot->properties);
	shot->properties[0] = '\0';
	assert_true(put_again(shot));
	assert_false(put_again(shot));
	assert_string_equal(shot_on_file(1).properties, "");
	const struct earlier *earlier = read_earlier(shot_on_file(1).id);
	assert_int_equal(earlier->count, 1);
	assert_string_equal(earlier->list[0].feature, "properties");
	assert_string_equal(earlier->list[0].text, longest);
	text_copy(shot->properties, sizeof shot->properties, longest);
	assert_true(put_again(shot));
	assert_string_equal(shot_on_file(1).properties, longest);
	earlier = read_earlier(shot_on_file(1).id);
	assert_int_equal(earlier->count, 2);
	assert_string_equal(earlier->list[0].text, ""); /* it had none */
	shot_free(shot);
}

static void
a_channel_alone_is_difference_enough(void **state)
{
	struct shot *shot = the_first_shot();
	(void)state;

	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	shot->channels[89].last += 1;
	assert_true(put_again(shot));
	assert_false(put_again(shot));
	shot->channel_count = 89;
	assert_true(put_again(shot));
	assert_int_equal(sql_integer("SELECT count(*) FROM shot_channel"), 89);
	assert_int_equal(read_earlier(shot_on_file(1).id)->count, 0);
	assert_int_equal(shot_on_file(1).change, 3);
	shot_free(shot);
}

/* --- rounding ----------------------------------------------------------------------- */

/* Puts what an earlier version filed in the place of shot 1: all digits of everything. */
static void
file_all_digits(const struct shot *shot)
{
	sqlite3 *db;
	char sql[128];

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	for (int i = 0; i < FEATURE_COUNT; i++) {
		if (shot->absent[i] != ABSENT_NOT)
			continue;
		snprintf(sql, sizeof sql, "UPDATE shot SET %s = %.17g",
		    feature_get(i)->name, feature_from_si(i, shot->value[i]));
		assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	}
	for (size_t i = 0; i < shot->channel_count; i++) {
		snprintf(sql, sizeof sql,
		    "UPDATE shot_channel SET mean = %.17g WHERE channel = %d",
		    shot->channels[i].mean, (int)i + 1);
		assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	}
	snprintf(sql, sizeof sql, "UPDATE shot SET filed_at = filed_at + 123");
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
}

static void
digits_beyond_the_tenth_are_no_difference(void **state)
{
	struct shot *shot = the_first_shot();
	(void)state;

	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	struct ledger_shot filed = shot_on_file(1);
	file_all_digits(shot);
	assert_true(
	    sql_integer("SELECT count(*) FROM shot WHERE heat_s <> round(heat_s, 8)"));
	/* It is read as one that is filed now. */
	struct ledger_shot read = shot_on_file(1);
	assert_memory_equal(&read.value, &filed.value, sizeof read.value);
	assert_int_equal(read.filed_at.ns, filed.filed_at.ns);
	assert_false(put_again(shot));
	assert_int_equal(shot_on_file(1).change, 1);

	shot->value[FEATURE_HEAT_S] += 1e-5;
	assert_true(put_again(shot));
	const struct earlier *earlier = read_earlier(1);
	assert_int_equal(earlier->count, 1); /* of the others nothing differs */
	assert_string_equal(earlier->list[0].feature, "heat_s");
	shot_free(shot);
}

static void
shots_of_old_times_come_once_each_by_time(void **state)
{
	sqlite3 *db;
	(void)state;

	write_shots(0, 1, 20);
	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, "UPDATE shot SET filed_at = filed_at + 999",
			     NULL, NULL, NULL),
	    SQLITE_OK);
	sqlite3_close(db);
	for (int newest = 0; newest <= 1; newest++) {
		const struct shots *shots = read_shots(
		    (struct ledger_filter){.by_time = true, .newest_first = newest});
		assert_int_equal(shots->count, 20);
	}
}

static void
what_is_no_shot_of_the_ledger_or_the_line_is_refused(void **state)
{
	struct shot *shot = the_first_shot(), *other = fixture_shot(&fixture, 1, 1);
	bool changed = true;
	(void)state;

	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	int64_t before = everything();
	assert_int_equal(ledger_put_recomputed(
			     ledger, &fixture.settings, 4711, shot, &changed, &error),
	    ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "write shot 1 of 'line-1' again"));
	assert_int_equal(ledger_put_recomputed(
			     ledger, &fixture.settings, 1, other, &changed, &error),
	    ERROR_INVALID);
	assert_non_null(strstr(error.text, "another line"));
	fixture_text(&fixture, corrected); /* but not filed */
	assert_int_equal(
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error),
	    ERROR_INVALID);
	assert_int_equal(everything(), before);
	shot_free(shot);
	shot_free(other);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_shot_that_comes_out_the_same_changes_nothing),
	    TEST(what_differs_is_replaced_and_what_was_there_stays_readable),
	    TEST(earlier_values_come_newest_first),
	    TEST(a_feature_that_is_configured_no_more_goes_and_stays_readable),
	    TEST(features_that_did_not_exist_leave_nothing_earlier),
	    TEST(features_that_were_not_configured_share_a_row_that_names_them),
	    TEST(other_properties_alone_are_difference_enough),
	    TEST(a_channel_alone_is_difference_enough),
	    TEST(digits_beyond_the_tenth_are_no_difference),
	    TEST(shots_of_old_times_come_once_each_by_time),
	    TEST(what_is_no_shot_of_the_ledger_or_the_line_is_refused),
	};
	return cmocka_run_group_tests_name("ledger, recompute", tests, NULL, NULL);
}
