/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing the ledger: set-ups and shots. */
#include "daemon/ledger/ledger.h"

#include "daemon/ledger/filed.h"
#include "tests/unit/daemon/ledger/ledger_pair.h"

/* --- set-ups ---------------------------------------------------------------------- */

static void
the_same_configuration_is_filed_once(void **state)
{
	int64_t second;
	(void)state;

	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(9), &second, &error),
	    0);
	assert_int_equal(second, setup_id);
	assert_int_equal(sql_integer("SELECT count(*) FROM setup"), 1);
}

static void
going_back_to_an_older_configuration_files_it_again(void **state)
{
	static char other[] = "[site]\nname = other\n";
	char *first = fixture.settings.text;
	int64_t second, third;
	(void)state;

	fixture_text(&fixture, other);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(1), &second, &error),
	    0);
	fixture_text(&fixture, first);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(2), &third, &error), 0);
	assert_true(setup_id < second && second < third);

	char *text = ledger_read_setup(reader, second, &error);
	assert_string_equal(text, other);
	free(text);
	text = ledger_read_setup(reader, 0, &error);
	assert_string_equal(text, first);
	free(text);
	assert_null(ledger_read_setup(reader, 77, &error));
}

static void
columns_are_added_only_for_features_that_a_line_can_have(void **state)
{
	const char *count = "SELECT count(*) FROM pragma_table_info('shot')"
			    " WHERE name GLOB 'exit_top_[0-9]_c'"
			    " OR name GLOB 'water_rise_[0-9]*_dc'";
	int64_t id;
	(void)state;

	assert_int_equal(sql_integer(count), 4 + 16);
	write_shots(0, 1, 1);
	fixture.lines[1].surfaces_top = 6;
	static char text[] = "[site]\nname = six\n";
	fixture_text(&fixture, text);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(1), &id, &error), 0);
	assert_int_equal(sql_integer(count), 6 + 16);
	write_shots(0, 2, 2);
	assert_int_equal(read_shots((struct ledger_filter){0})->count, 2);
	assert_int_equal(sql_integer("SELECT count(*) FROM feature WHERE setup = 1"),
	    FIXTURE_FEATURES);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM feature WHERE setup = 2"), 2);
}

static void
file_setup(char *text)
{
	int64_t id;

	fixture_text(&fixture, text);
	if (ledger_put_setup(ledger, &fixture.settings, seconds(1), &id, &error) != 0)
		fail_msg("%s", error.text);
}

static void
a_channel_with_a_new_meaning_is_a_new_channel(void **state)
{
	(void)state;

	assert_int_equal(sql_integer("SELECT count(*) FROM channel"), FIXTURE_CHANNELS);
	fixture.channels[0].role = ROLE_ZONE_BOTTOM;
	static char text[] = "[site]\nname = moved\n";
	file_setup(text);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM channel"), FIXTURE_CHANNELS + 1);
}

/* The first channels of the second line: a zone of an oven, a tool of a side. */
static void
a_channel_tells_its_oven_and_its_side_where_there_are_several(void **state)
{
	static char two[] = "[site]\nname = two of each\n";
	static char other[] = "[site]\nname = the other of each\n";
	struct line_settings *line = &fixture.lines[1];
	struct channel_settings *zone = &fixture.channels[90],
				*tool = &fixture.channels[91];
	(void)state;

	line->station_count = 4;
	line->oven_count = 2;
	line->stations[0] = (struct station_settings){"load", STATION_LOAD};
	line->stations[1] = (struct station_settings){"oven-a", STATION_OVEN};
	line->stations[2] = (struct station_settings){"oven-b", STATION_OVEN};
	line->stations[3] = (struct station_settings){"form", STATION_FORM};
	line->side_count = 2;
	snprintf(line->sides[0], SETTINGS_NAME, "left");
	snprintf(line->sides[1], SETTINGS_NAME, "right");
	zone->oven = 1;
	tool->side = 1;
	file_setup(two);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM channel WHERE name ="
			" 'zone_top_91' AND oven = 'oven-b' AND side = ''"),
	    1);
	assert_int_equal(sql_integer("SELECT count(*) FROM channel WHERE name ="
				     " 'tool_92' AND oven = '' AND side = 'right'"),
	    1);
	int64_t before = sql_integer("SELECT count(*) FROM channel");
	zone->oven = 0;
	tool->side = -1;
	file_setup(other);
	/* The zone is another now; the tool is the one that it was at first. */
	assert_int_equal(sql_integer("SELECT count(*) FROM channel"), before + 1);
}

static void
a_shot_tells_the_side_it_came_from(void **state)
{
	static char text[] = "[site]\nname = two sides\n";
	struct line_settings *line = &fixture.lines[1];
	(void)state;

	line->side_count = 2;
	snprintf(line->sides[0], SETTINGS_NAME, "left");
	snprintf(line->sides[1], SETTINGS_NAME, "right");
	file_setup(text);
	struct shot *shot = fixture_shot(&fixture, 1, 1);
	shot->side = 1;
	write_shot_and_free(shot);
	assert_string_equal(
	    read_shots((struct ledger_filter){0})->list[0].side, "right");

	shot = fixture_shot(&fixture, 1, 2);
	shot->side = 2;
	assert_int_equal(
	    ledger_put_shot(ledger, &fixture.settings, shot, &error), ERROR_INVALID);
	shot_free(shot);
}

/* --- shots ---------------------------------------------------------------------------- */

static void
every_field_of_a_shot_comes_back(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 7);
	(void)state;

	shot->outcome = SHOT_TIMER_RELEASE;
	shot->flags = SHOT_FLAG_TIMER | SHOT_FLAG_LOGGER_START;
	snprintf(shot->reason, sizeof shot->reason, "released after 230 s, no sag");
	shot->value[FEATURE_ENERGY_KWH] = 7.2e6; /* J */
	shot->value[FEATURE_SAG_S] = NAN;
	shot->absent[FEATURE_SAG_S] = ABSENT_NOT_APPLICABLE;
	shot->value[FEATURE_STACK_C] = NAN;
	shot->absent[FEATURE_STACK_C] = ABSENT_SENSOR_FAULT;
	shot->value[FEATURE_METER_KWH] = NAN;
	shot->absent[FEATURE_METER_KWH] = ABSENT_NOT_CONFIGURED;
	shot->loaded_at.ns = 0;
	shot->set_points = UINT64_C(0xfedcba9876543210);
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);

	const struct shots *shots = read_shots((struct ledger_filter){0});
	const struct ledger_shot *read = &shots->list[0];
	assert_int_equal(shots->count, 1);
	assert_int_equal(read->change, 1);
	assert_int_equal(read->setup, setup_id);
	assert_int_equal(read->shot_no, 7);
	assert_int_equal(read->cycle_count, 100007);
	assert_string_equal(read->line, "line-1");
	assert_string_equal(read->recipe, "12");
	assert_string_equal(read->material, "abs");
	assert_string_equal(read->tool, "");
	assert_string_equal(read->lot, "");
	assert_int_equal(read->filed_at.ns, shot->form_start_at.ns);
	assert_int_equal(read->loaded_at.ns, 0);
	assert_int_equal(read->heat_start_at.ns, shot->heat_start_at.ns);
	assert_int_equal(read->heat_end_at.ns, shot->heat_end_at.ns);
	assert_int_equal(read->form_start_at.ns, shot->form_start_at.ns);
	assert_int_equal(read->form_end_at.ns, shot->form_end_at.ns);
	assert_int_equal(read->closed_at.ns, shot->closed_at.ns);
	assert_int_equal(read->outcome, SHOT_TIMER_RELEASE);
	assert_int_equal(read->flags, shot->flags);
	assert_string_equal(read->reason, shot->reason);
	assert_true(read->uncertainty_s == 0.25);
	assert_string_equal(read->side, "");
	assert_true(read->set_points == shot->set_points);
	assert_string_equal(read->properties, "abs 2 4c1a09e2");
	for (int i = 0; i < FEATURE_COUNT; i++) {
		assert_int_equal(read->absent[i], shot->absent[i]);
		if (shot->absent[i] != ABSENT_NOT)
			assert_true(isnan(read->value[i]));
		else
			assert_true(read->value[i] ==
				    filed_number(feature_from_si(i, shot->value[i])));
	}
	assert_true(read->value[FEATURE_ENERGY_KWH] == 2);
	shot_free(shot);
}

static void
what_is_unknown_of_a_shot_stays_unknown(void **state)
{
	struct shot *shot = shot_new(0);
	(void)state;

	shot->line = 1;
	shot->shot_no = 1;
	shot->closed_at = seconds(5);
	shot->uncertainty_s = NAN;
	write_shot_and_free(shot);

	const struct ledger_shot *read =
	    &read_shots((struct ledger_filter){0})->list[0];
	assert_string_equal(read->line, "line-2");
	assert_string_equal(read->recipe, "");
	assert_int_equal(read->cycle_count, -1);
	assert_true(isnan(read->uncertainty_s));
	assert_true(read->set_points == 0);
	assert_int_equal(read->filed_at.ns, seconds(5).ns);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM shot WHERE recipe IS NULL AND"
			" cycle_count IS NULL AND loaded_at IS NULL AND"
			" heat_s IS NULL AND uncertainty_s IS NULL AND"
			" side IS NULL AND set_points IS NULL"),
	    1);
	assert_int_equal(sql_integer("SELECT count(*) FROM absent"), 0);
}

static void
a_value_that_is_no_number_is_absent_out_of_range(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	(void)state;

	shot->value[FEATURE_HEAT_S] = INFINITY;
	shot->value[FEATURE_STACK_C] = NAN;
	write_shot_and_free(shot);
	const struct ledger_shot *read =
	    &read_shots((struct ledger_filter){0})->list[0];
	assert_int_equal(read->absent[FEATURE_HEAT_S], ABSENT_OUT_OF_RANGE);
	assert_true(isnan(read->value[FEATURE_HEAT_S]));
	assert_int_equal(read->absent[FEATURE_STACK_C], ABSENT_OUT_OF_RANGE);
}

struct channels {
	int count;
	struct ledger_channel list[FIXTURE_CHANNELS];
};

static int
keep_channel(void *arg, const struct ledger_channel *channel)
{
	struct channels *channels = arg;

	assert_true(channels->count < FIXTURE_CHANNELS);
	channels->list[channels->count++] = *channel;
	return 0;
}

static void
every_field_of_a_channel_comes_back(void **state)
{
	static struct channels channels;
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	(void)state;

	shot->channels[3] = (struct shot_channel){
	    3, NAN, NAN, NAN, NAN, NAN, 0.125, ABSENT_LOW_COVERAGE};
	shot->channels[4].sd = NAN;
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	write_shots(0, 2, 2);

	int64_t id = read_shots((struct ledger_filter){0})->list[0].id;
	channels.count = 0;
	assert_int_equal(
	    ledger_read_channels(reader, id, keep_channel, &channels, &error), 0);
	assert_int_equal(channels.count, FIXTURE_SHOT_CHANNELS);
	for (int i = 0; i < channels.count; i++) {
		const struct ledger_channel *read = &channels.list[i];
		const struct shot_channel *wrote = &shot->channels[i];
		assert_string_equal(read->device, "plc-1");
		assert_string_equal(read->channel, fixture.channels[i].name);
		assert_string_equal(read->role, role_text(fixture.channels[i].role));
		assert_int_equal(read->absent, wrote->absent);
		assert_true(read->coverage == wrote->coverage);
		if (i == 3) {
			assert_true(isnan(read->min) && isnan(read->mean) &&
				    isnan(read->max) && isnan(read->last));
			continue;
		}
		assert_true(read->min == filed_number(wrote->min) &&
			    read->mean == filed_number(wrote->mean) &&
			    read->max == filed_number(wrote->max) &&
			    read->last == filed_number(wrote->last));
		assert_true(
		    i == 4 ? isnan(read->sd) : read->sd == filed_number(wrote->sd));
	}
	shot_free(shot);
}

static void
writing_a_shot_again_changes_nothing(void **state)
{
	(void)state;

	write_shots(0, 1, 2);
	fixture.random = 99; /* other values under the same number */
	struct ledger_shot before = read_shots((struct ledger_filter){0})->list[0];
	write_shots(0, 1, 1);
	const struct shots *after = read_shots((struct ledger_filter){0});
	assert_int_equal(after->count, 2);
	assert_int_equal(after->list[0].change, before.change);
	assert_memory_equal(after->list[0].value, before.value, sizeof before.value);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot_channel"),
	    2 * FIXTURE_SHOT_CHANNELS);
	write_shots(1, 1, 1); /* the same number of another line is another shot */
	assert_int_equal(read_shots((struct ledger_filter){0})->count, 3);
}

static void
the_last_shot_number_is_a_lines_own(void **state)
{
	struct wall closed_at = {-1};
	int64_t no = -1;
	(void)state;

	assert_int_equal(
	    ledger_last_shot(ledger, "line-1", &no, &closed_at, &error), 0);
	assert_int_equal(no, 0);
	assert_int_equal(closed_at.ns, 0);
	write_shots(0, 1, 3);
	write_shots(1, 40, 41);
	assert_int_equal(
	    ledger_last_shot(ledger, "line-1", &no, &closed_at, &error), 0);
	assert_int_equal(no, 3);
	assert_int_equal(closed_at.ns,
	    read_shots((struct ledger_filter){.line = "line-1", .shot_no = 3})
		->list[0]
		.closed_at.ns);
	assert_int_equal(
	    ledger_last_shot(ledger, "line-2", &no, &closed_at, &error), 0);
	assert_int_equal(no, 41);
	assert_int_equal(
	    ledger_last_shot(ledger, "no such line", &no, &closed_at, &error), 0);
	assert_int_equal(no, 0);
}

static void
a_shot_of_another_configuration_is_refused(void **state)
{
	static char other[] = "[site]\nname = other\n";
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	(void)state;

	fixture_text(&fixture, other);
	assert_int_equal(
	    ledger_put_shot(ledger, &fixture.settings, shot, &error), ERROR_INVALID);
	assert_non_null(strstr(error.text, "write shot 1"));
	shot_free(shot);
	assert_int_equal(read_shots((struct ledger_filter){0})->count, 0);
}

static void
a_shot_with_a_channel_that_is_not_configured_is_refused_whole(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	(void)state;

	shot->channels[89].channel = FIXTURE_CHANNELS;
	assert_int_equal(
	    ledger_put_shot(ledger, &fixture.settings, shot, &error), ERROR_INVALID);
	shot_free(shot);
	assert_int_equal(read_shots((struct ledger_filter){0})->count, 0);
	assert_int_equal(sql_integer("SELECT count(*) FROM shot_channel"), 0);
}

/* --- the file ----------------------------------------------------------------------- */

static void
any_sql_tool_can_read_it(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	sqlite3 *db;
	sqlite3_stmt *row;
	(void)state;

	shot->value[FEATURE_HEAT_S] = 143.5;
	write_shot_and_free(shot);
	assert_int_equal(
	    sqlite3_open_v2(fixture.path, &db, SQLITE_OPEN_READONLY, NULL), SQLITE_OK);
	assert_int_equal(
	    sqlite3_prepare_v2(db,
		"SELECT line.name, shot_no, outcome, recipe.name, heat_s,"
		" feature.unit, count(*) FROM shot"
		" JOIN line ON line.id = shot.line"
		" JOIN recipe ON recipe.setup = shot.setup AND number = recipe"
		" JOIN feature ON feature.name = 'heat_s'"
		" JOIN shot_channel ON shot_channel.shot = shot.id"
		" JOIN channel ON channel.id = shot_channel.channel"
		" WHERE channel.unit = 'C'",
		-1, &row, NULL),
	    SQLITE_OK);
	assert_int_equal(sqlite3_step(row), SQLITE_ROW);
	assert_string_equal((const char *)sqlite3_column_text(row, 0), "line-1");
	assert_int_equal(sqlite3_column_int(row, 1), 1);
	assert_string_equal((const char *)sqlite3_column_text(row, 2), "complete");
	assert_string_equal((const char *)sqlite3_column_text(row, 3), "pond-basin");
	assert_true(sqlite3_column_double(row, 4) == 143.5);
	assert_string_equal((const char *)sqlite3_column_text(row, 5), "s");
	assert_int_equal(sqlite3_column_int(row, 6), FIXTURE_SHOT_CHANNELS / 2);
	sqlite3_finalize(row);
	sqlite3_close(db);
}

static void
a_checkpoint_empties_the_wal(void **state)
{
	char wal[400];
	(void)state;

	snprintf(wal, sizeof wal, "%s-wal", fixture.path);
	write_shots(0, 1, 3);
	assert_int_equal(access(wal, F_OK), 0);
	assert_int_equal(ledger_checkpoint(ledger, &error), 0);
	FILE *file = fopen(wal, "r");
	assert_non_null(file);
	fseek(file, 0, SEEK_END);
	assert_int_equal(ftell(file), 0);
	fclose(file);
	assert_int_equal(read_shots((struct ledger_filter){0})->count, 3);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(the_same_configuration_is_filed_once),
	    TEST(going_back_to_an_older_configuration_files_it_again),
	    TEST(columns_are_added_only_for_features_that_a_line_can_have),
	    TEST(a_channel_with_a_new_meaning_is_a_new_channel),
	    TEST(a_channel_tells_its_oven_and_its_side_where_there_are_several),
	    TEST(a_shot_tells_the_side_it_came_from),
	    TEST(every_field_of_a_shot_comes_back),
	    TEST(what_is_unknown_of_a_shot_stays_unknown),
	    TEST(a_value_that_is_no_number_is_absent_out_of_range),
	    TEST(every_field_of_a_channel_comes_back),
	    TEST(writing_a_shot_again_changes_nothing),
	    TEST(the_last_shot_number_is_a_lines_own),
	    TEST(a_shot_of_another_configuration_is_refused),
	    TEST(a_shot_with_a_channel_that_is_not_configured_is_refused_whole),
	    TEST(any_sql_tool_can_read_it),
	    TEST(a_checkpoint_empties_the_wal),
	};
	return cmocka_run_group_tests_name("ledger", tests, NULL, NULL);
}
