/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Writing the ledger: set-ups, shots, context, events, delivery, health. */
#include "daemon/ledger/ledger.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include "daemon/ledger/ledger_read.h"
#include "tests/unit/daemon/ledger/ledger_fixture.h"

#include <sqlite3.h>

static struct fixture fixture;
static struct ledger *ledger;
static struct ledger_read *reader;
static struct error error;
static int64_t setup_id;

static struct wall
seconds(int64_t s)
{
	return (struct wall){FIXTURE_START_NS + s * CLOCK_SECOND_NS};
}

static int
open_both(void **state)
{
	(void)state;
	if (!fixture_init(&fixture))
		return -1;
	ledger = ledger_open(fixture.path, NULL, &error);
	if (ledger == NULL || ledger_put_setup(ledger, &fixture.settings, seconds(0),
				  &setup_id, &error) != 0) {
		print_error("%s\n", error.text);
		return -1;
	}
	reader = ledger_read_open(fixture.path, &error);
	return reader == NULL ? -1 : 0;
}

static int
close_both(void **state)
{
	(void)state;
	ledger_read_close(reader);
	ledger_close(ledger);
	fixture_release(&fixture);
	return 0;
}

/* --- what the tests look at --------------------------------------------------------- */

static int64_t
sql_integer(const char *sql)
{
	sqlite3 *db;
	sqlite3_stmt *statement;

	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_prepare_v2(db, sql, -1, &statement, NULL), SQLITE_OK);
	assert_int_equal(sqlite3_step(statement), SQLITE_ROW);
	int64_t value = sqlite3_column_int64(statement, 0);
	sqlite3_finalize(statement);
	sqlite3_close(db);
	return value;
}

enum { SHOTS = 64 };
struct shots {
	int count;
	struct ledger_shot list[SHOTS];
};

static int
keep_shot(void *arg, const struct ledger_shot *shot)
{
	struct shots *shots = arg;

	assert_true(shots->count < SHOTS);
	shots->list[shots->count++] = *shot;
	return 0;
}

static const struct shots *
read_shots(struct ledger_filter filter)
{
	static struct shots shots;

	shots.count = 0;
	assert_int_equal(
	    ledger_read_shots(reader, &filter, true, keep_shot, &shots, &error), 0);
	return &shots;
}

static void
write_shots(uint32_t line, int64_t first, int64_t last)
{
	if (fixture_write(&fixture, ledger, line, first, last, &error) != 0)
		fail_msg("%s", error.text);
}

static void
write_shot_and_free(struct shot *shot)
{
	if (ledger_put_shot(ledger, &fixture.settings, shot, &error) != 0)
		fail_msg("%s", error.text);
	shot_free(shot);
}

static int64_t
enter(enum context_key key, const char *value, struct wall from)
{
	int64_t relabelled = -1;

	if (ledger_put_context(ledger, "line-1", key, value, from, seconds(999999),
		&relabelled, &error) != 0)
		fail_msg("%s", error.text);
	return relabelled;
}

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
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM feature WHERE setup = 1"), 60);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM feature WHERE setup = 2"), 2);
}

static void
a_channel_with_a_new_meaning_is_a_new_channel(void **state)
{
	int64_t id;
	(void)state;

	assert_int_equal(sql_integer("SELECT count(*) FROM channel"), FIXTURE_CHANNELS);
	fixture.channels[0].role = ROLE_ZONE_BOTTOM;
	static char text[] = "[site]\nname = moved\n";
	fixture_text(&fixture, text);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(1), &id, &error), 0);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM channel"), FIXTURE_CHANNELS + 1);
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
	for (int i = 0; i < FEATURE_COUNT; i++) {
		assert_int_equal(read->absent[i], shot->absent[i]);
		if (shot->absent[i] != ABSENT_NOT)
			assert_true(isnan(read->value[i]));
		else
			assert_true(
			    read->value[i] == feature_from_si(i, shot->value[i]));
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
	assert_int_equal(read->filed_at.ns, seconds(5).ns);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM shot WHERE recipe IS NULL AND"
			" cycle_count IS NULL AND loaded_at IS NULL AND"
			" heat_s IS NULL AND uncertainty_s IS NULL"),
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
		assert_true(read->min == wrote->min && read->mean == wrote->mean &&
			    read->max == wrote->max && read->last == wrote->last);
		assert_true(i == 4 ? isnan(read->sd) : read->sd == wrote->sd);
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
	int64_t no = -1;
	(void)state;

	assert_int_equal(ledger_last_shot_no(ledger, "line-1", &no, &error), 0);
	assert_int_equal(no, 0);
	write_shots(0, 1, 3);
	write_shots(1, 40, 41);
	assert_int_equal(ledger_last_shot_no(ledger, "line-1", &no, &error), 0);
	assert_int_equal(no, 3);
	assert_int_equal(ledger_last_shot_no(ledger, "line-2", &no, &error), 0);
	assert_int_equal(no, 41);
	assert_int_equal(ledger_last_shot_no(ledger, "no such line", &no, &error), 0);
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

/* --- context -------------------------------------------------------------------------- */

static void
a_shot_gets_the_context_in_force_at_its_form_start(void **state)
{
	(void)state;

	enter(CONTEXT_TOOL, "T-117", fixture_time(0));
	enter(CONTEXT_TOOL, "T-204", fixture_time(3)); /* from exactly then on */
	enter(CONTEXT_LOT, "L-1", fixture_time(2));
	write_shots(0, 1, 4);
	write_shots(1, 1, 1); /* another line's */

	const struct shots *shots = read_shots((struct ledger_filter){0});
	assert_string_equal(shots->list[0].tool, "T-117");
	assert_string_equal(shots->list[0].lot, "");
	assert_string_equal(shots->list[1].tool, "T-117");
	assert_string_equal(shots->list[1].lot, "L-1");
	assert_string_equal(shots->list[2].tool, "T-204");
	assert_string_equal(shots->list[3].tool, "T-204");
	assert_string_equal(shots->list[4].line, "line-2");
	assert_string_equal(shots->list[4].tool, "");
}

static void
a_back_dated_entry_relabels_exactly_the_shots_it_covers(void **state)
{
	static const char *const tools[] = {"", "T-1", "T-1", "T-2", "T-2", "T-2"};
	(void)state;

	enter(CONTEXT_TOOL, "T-2", fixture_time(4));
	write_shots(0, 1, 6);
	write_shots(1, 3, 3);
	/* From shot 2 on, up to the next entry at shot 4. */
	assert_int_equal(enter(CONTEXT_TOOL, "T-1", fixture_time(2)), 2);

	const struct shots *shots =
	    read_shots((struct ledger_filter){.by_time = true, .line = "line-1"});
	assert_int_equal(shots->count, 6);
	for (int i = 0; i < 6; i++)
		assert_string_equal(shots->list[i].tool, tools[i]);
	assert_int_equal(shots->list[0].change, 1);
	assert_int_equal(shots->list[1].change, 8); /* seven were written before */
	assert_int_equal(shots->list[2].change, 9);
	assert_int_equal(shots->list[3].change, 4);
	assert_string_equal(
	    read_shots((struct ledger_filter){.line = "line-2"})->list[0].tool, "");

	/* A cursor at 7 sees them again, and only them. */
	shots = read_shots((struct ledger_filter){.after_change = 7});
	assert_int_equal(shots->count, 2);
	assert_int_equal(shots->list[0].shot_no, 2);
	assert_int_equal(shots->list[1].shot_no, 3);
}

static void
an_entry_that_changes_no_label_gives_no_new_change(void **state)
{
	(void)state;

	enter(CONTEXT_LOT, "L-1", fixture_time(0));
	write_shots(0, 1, 3);
	assert_int_equal(enter(CONTEXT_LOT, "L-1", fixture_time(2)), 0);
	assert_int_equal(enter(CONTEXT_NOTE, "changed a heater", fixture_time(2)), 0);
	assert_int_equal(
	    read_shots((struct ledger_filter){.after_change = 3})->count, 0);
}

static void
a_correction_at_the_same_time_wins_and_nothing_is_lost(void **state)
{
	(void)state;

	enter(CONTEXT_LOT, "L-1", fixture_time(1));
	write_shots(0, 1, 1);
	assert_int_equal(enter(CONTEXT_LOT, "L-2", fixture_time(1)), 1);
	write_shots(0, 2, 2);
	const struct shots *shots = read_shots((struct ledger_filter){.by_time = true});
	assert_string_equal(shots->list[0].lot, "L-2");
	assert_string_equal(shots->list[1].lot, "L-2");
	assert_int_equal(sql_integer("SELECT count(*) FROM context"), 2);
	/* And an empty value says that it is unknown from then on. */
	assert_int_equal(enter(CONTEXT_LOT, "", fixture_time(2)), 1);
	assert_string_equal(
	    read_shots((struct ledger_filter){.shot_no = 2})->list[0].lot, "");
}

static void
an_entered_recipe_holds_only_where_the_machine_tells_none(void **state)
{
	(void)state;

	enter(CONTEXT_RECIPE, "31", fixture_time(1));
	for (int no = 1; no <= 3; no++) {
		struct shot *shot = fixture_shot(&fixture, 0, no);
		shot->recipe = no == 2 ? 12 : -1;
		write_shot_and_free(shot);
	}
	const struct shots *shots = read_shots((struct ledger_filter){.by_time = true});
	assert_string_equal(shots->list[0].recipe, "31");
	assert_string_equal(shots->list[0].material, "hdpe");
	assert_string_equal(shots->list[1].recipe, "12");
	assert_string_equal(shots->list[1].material, "abs");

	assert_int_equal(enter(CONTEXT_RECIPE, " 12 ", fixture_time(1)), 2);
	shots = read_shots((struct ledger_filter){.by_time = true});
	assert_string_equal(shots->list[2].recipe, "12");
	assert_string_equal(shots->list[2].material, "abs");
	assert_int_equal(shots->list[1].change, 2);

	/* A recipe that the configuration does not know has no material. */
	assert_int_equal(enter(CONTEXT_RECIPE, "99", fixture_time(3)), 1);
	shots = read_shots((struct ledger_filter){.shot_no = 3});
	assert_string_equal(shots->list[0].recipe, "99");
	assert_string_equal(shots->list[0].material, "");
}

static void
an_entry_that_cannot_be_meant_is_refused(void **state)
{
	char long_name[80];
	int64_t n;
	(void)state;

	memset(long_name, 'x', sizeof long_name - 1);
	long_name[sizeof long_name - 1] = '\0';
	assert_int_equal(ledger_put_context(ledger, "line-1", CONTEXT_RECIPE, "pond",
			     seconds(0), seconds(0), &n, &error),
	    ERROR_INVALID);
	assert_non_null(strstr(error.text, "'pond'"));
	assert_int_equal(ledger_put_context(ledger, "line-1", CONTEXT_TOOL, long_name,
			     seconds(0), seconds(0), &n, &error),
	    ERROR_INVALID);
	assert_int_equal(ledger_put_context(ledger, "line-1", CONTEXT_NOTE, "",
			     seconds(0), seconds(0), &n, &error),
	    ERROR_INVALID);
	assert_int_equal(ledger_put_context(ledger, "line-9", CONTEXT_TOOL, "T",
			     seconds(0), seconds(0), &n, &error),
	    ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "'line-9'"));
	assert_int_equal(sql_integer("SELECT count(*) FROM context"), 0);
}

static int
check_context(void *arg, const struct ledger_context *context)
{
	int *count = arg;

	assert_string_equal(context->line, "line-1");
	assert_string_equal(context->key, *count == 0 ? "tool" : "note");
	assert_string_equal(context->value, *count == 0 ? "T-1" : "Überlast, Zone 7");
	assert_int_equal(context->from.ns, seconds(*count).ns);
	assert_int_equal(context->entered.ns, seconds(999999).ns);
	++*count;
	return 0;
}

static void
context_entries_come_back_by_the_time_they_hold_from(void **state)
{
	int count = 0;
	(void)state;

	enter(CONTEXT_NOTE, "Überlast, Zone 7", seconds(1));
	enter(CONTEXT_TOOL, "T-1", seconds(0));
	assert_int_equal(
	    ledger_read_context(reader, "line-1", check_context, &count, &error), 0);
	assert_int_equal(count, 2);
	count = 0;
	assert_int_equal(
	    ledger_read_context(reader, NULL, check_context, &count, &error), 0);
	assert_int_equal(count, 2);
	assert_int_equal(
	    ledger_read_context(reader, "line-2", check_context, &count, &error), 0);
	assert_int_equal(count, 2);
}

/* --- events, delivery, health ------------------------------------------------------- */

struct events {
	int count;
	struct ledger_event list[8];
};

static int
keep_event(void *arg, const struct ledger_event *event)
{
	struct events *events = arg;

	assert_true(events->count < 8);
	events->list[events->count++] = *event;
	return 0;
}

static void
events_and_shots_share_one_rising_sequence(void **state)
{
	static struct events events;
	(void)state;

	assert_int_equal(ledger_put_event(ledger, NULL, seconds(1), "start",
			     "evensoakd starts", &error),
	    0);
	write_shots(0, 1, 1);
	assert_int_equal(ledger_put_event(ledger, "line-1", seconds(3), "count_jump",
			     "the counter went from 7 to 9", &error),
	    0);
	assert_int_equal(
	    ledger_put_event(ledger, "line-9", seconds(3), "x", "y", &error),
	    ERROR_NOT_FOUND);

	events.count = 0;
	struct ledger_filter filter = {0};
	assert_int_equal(
	    ledger_read_events(reader, &filter, keep_event, &events, &error), 0);
	assert_int_equal(events.count, 2);
	assert_int_equal(events.list[0].change, 1);
	assert_string_equal(events.list[0].line, "");
	assert_int_equal(events.list[1].change, 3);
	assert_string_equal(events.list[1].line, "line-1");
	assert_string_equal(events.list[1].kind, "count_jump");
	assert_string_equal(events.list[1].text, "the counter went from 7 to 9");
	assert_int_equal(events.list[1].at.ns, seconds(3).ns);
	assert_int_equal(read_shots(filter)->list[0].change, 2);

	events.count = 0;
	filter = (struct ledger_filter){.newest_first = true, .limit = 1};
	assert_int_equal(
	    ledger_read_events(reader, &filter, keep_event, &events, &error), 0);
	assert_int_equal(events.count, 1);
	assert_int_equal(events.list[0].change, 3);

	events.count = 0;
	filter = (struct ledger_filter){.by_time = true, .to = seconds(3)};
	assert_int_equal(
	    ledger_read_events(reader, &filter, keep_event, &events, &error), 0);
	assert_int_equal(events.count, 1);
	assert_int_equal(events.list[0].change, 1);
}

static void
a_cursor_belongs_to_a_destination_and_a_stream(void **state)
{
	int64_t change = -1, shots = -1, refused = -1;
	(void)state;

	assert_int_equal(ledger_cursor(ledger, "plant", "shot", &change, &error), 0);
	assert_int_equal(change, 0);
	write_shots(0, 1, 5);
	assert_int_equal(
	    ledger_set_cursor(ledger, "plant", "shot", 3, seconds(0), &error), 0);
	assert_int_equal(
	    ledger_set_cursor(ledger, "plant", "event", 9, seconds(0), &error), 0);
	assert_int_equal(ledger_cursor(ledger, "plant", "shot", &change, &error), 0);
	assert_int_equal(change, 3);
	assert_int_equal(ledger_cursor(ledger, "other", "shot", &change, &error), 0);
	assert_int_equal(change, 0);
	assert_int_equal(
	    ledger_read_backlog(reader, "plant", &shots, &refused, &error), 0);
	assert_int_equal(shots, 2);
	assert_int_equal(refused, 0);
	/* It may also step back. */
	assert_int_equal(
	    ledger_set_cursor(ledger, "plant", "shot", 1, seconds(0), &error), 0);
	assert_int_equal(
	    ledger_read_backlog(reader, "plant", &shots, &refused, &error), 0);
	assert_int_equal(shots, 4);
	assert_int_equal(
	    ledger_read_backlog(reader, "new", &shots, &refused, &error), 0);
	assert_int_equal(shots, 5);
}

static void
a_refused_line_is_kept_once_with_the_last_answer(void **state)
{
	int64_t shots, refused;
	(void)state;

	for (int i = 0; i < 2; i++)
		assert_int_equal(
		    ledger_put_refusal(ledger, "plant", 4, "shot,site=x heat_s=1 1",
			i == 0 ? "first" : "field type conflict", seconds(i), &error),
		    0);
	assert_int_equal(
	    ledger_put_refusal(ledger, "plant", 5, "y", "z", seconds(0), &error), 0);
	assert_int_equal(
	    ledger_read_backlog(reader, "plant", &shots, &refused, &error), 0);
	assert_int_equal(refused, 2);
	assert_int_equal(sql_integer("SELECT count(*) FROM refusal WHERE change = 4"
				     " AND answer = 'field type conflict'"),
	    1);
}

static int
check_health(void *arg, const struct ledger_health *health)
{
	int *count = arg;

	assert_string_equal(health->subject, *count == 0 ? "device plc-1" : "daemon");
	assert_string_equal(health->state, "ok");
	assert_string_equal(health->text, "answers");
	assert_int_equal(health->since.ns, seconds(1).ns);
	assert_int_equal(health->at.ns, seconds(2).ns);
	assert_int_equal(health->good, 10);
	assert_int_equal(health->bad, 3);
	++*count;
	return 0;
}

static void
health_rows_replace_those_that_were_there(void **state)
{
	struct ledger_health rows[3] = {
	    {"device plc-1", "ok", "answers", seconds(1), seconds(2), 10, 3},
	    {"daemon", "ok", "answers", seconds(1), seconds(2), 10, 3},
	    {"store plant", "silent", "?", seconds(1), seconds(2), 0, 0},
	};
	int count = 0;
	(void)state;

	assert_int_equal(ledger_put_health(ledger, rows, 3, &error), 0);
	assert_int_equal(ledger_put_health(ledger, rows, 2, &error), 0);
	assert_int_equal(ledger_read_health(reader, check_health, &count, &error), 0);
	assert_int_equal(count, 2);
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

#define TEST(name) cmocka_unit_test_setup_teardown(name, open_both, close_both)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(the_same_configuration_is_filed_once),
	    TEST(going_back_to_an_older_configuration_files_it_again),
	    TEST(columns_are_added_only_for_features_that_a_line_can_have),
	    TEST(a_channel_with_a_new_meaning_is_a_new_channel),
	    TEST(every_field_of_a_shot_comes_back),
	    TEST(what_is_unknown_of_a_shot_stays_unknown),
	    TEST(a_value_that_is_no_number_is_absent_out_of_range),
	    TEST(every_field_of_a_channel_comes_back),
	    TEST(writing_a_shot_again_changes_nothing),
	    TEST(the_last_shot_number_is_a_lines_own),
	    TEST(a_shot_of_another_configuration_is_refused),
	    TEST(a_shot_with_a_channel_that_is_not_configured_is_refused_whole),
	    TEST(a_shot_gets_the_context_in_force_at_its_form_start),
	    TEST(a_back_dated_entry_relabels_exactly_the_shots_it_covers),
	    TEST(an_entry_that_changes_no_label_gives_no_new_change),
	    TEST(a_correction_at_the_same_time_wins_and_nothing_is_lost),
	    TEST(an_entered_recipe_holds_only_where_the_machine_tells_none),
	    TEST(an_entry_that_cannot_be_meant_is_refused),
	    TEST(context_entries_come_back_by_the_time_they_hold_from),
	    TEST(events_and_shots_share_one_rising_sequence),
	    TEST(a_cursor_belongs_to_a_destination_and_a_stream),
	    TEST(a_refused_line_is_kept_once_with_the_last_answer),
	    TEST(health_rows_replace_those_that_were_there),
	    TEST(any_sql_tool_can_read_it),
	    TEST(a_checkpoint_empties_the_wal),
	};
	return cmocka_run_group_tests_name("ledger", tests, NULL, NULL);
}
