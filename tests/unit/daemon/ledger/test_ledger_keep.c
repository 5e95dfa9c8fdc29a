/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the ledger forgets, and above all what it does not. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

static const char *const stores[] = {"plant", "head"};

/* Of `count` of the stores.  How many calls it took. */
static int
forget(struct wall channels_before, struct wall shots_before, size_t count)
{
	const struct ledger_keep keep = {channels_before, shots_before, stores, count};
	bool more = true;
	int calls = 0;

	for (; more; calls++) {
		if (ledger_forget(ledger, &keep, &more, &error) != 0)
			fail_msg("%s", error.text);
		assert_true(calls < 1000);
	}
	return calls;
}

static void
deliver(const char *destination, const char *stream, int64_t change)
{
	const struct ledger_delivered delivered = {.change = change};

	if (ledger_set_delivered(ledger, destination, stream, &delivered, &error) != 0)
		fail_msg("%s", error.text);
}

static void
write_many(uint32_t line, int64_t first, int64_t last)
{
	assert_int_equal(ledger_set_hasty(ledger, true, &error), 0);
	write_shots(line, first, last);
	assert_int_equal(ledger_set_hasty(ledger, false, &error), 0);
}

static void
put_turn(const char *line, const char *kind, struct wall at)
{
	assert_int_equal(ledger_put_event(ledger, line, at, kind, "x", &error), 0);
}

static void
put_event(struct wall at)
{
	assert_int_equal(
	    ledger_put_event(ledger, "line-1", at, "stop", "x", &error), 0);
}

static int64_t
count(const char *table)
{
	char sql[64];

	snprintf(sql, sizeof sql, "SELECT count(*) FROM %s", table);
	return sql_integer(sql);
}

static const struct wall none;

/* --- channels ----------------------------------------------------------------------- */

static void
channels_of_old_shots_go_and_the_shots_stay(void **state)
{
	(void)state;

	write_many(0, 1, 500);
	assert_int_equal(forget(none, none, 0), 1);
	assert_int_equal(count("shot_channel"), 500 * FIXTURE_SHOT_CHANNELS);
	assert_int_equal(forget(fixture_time(451), none, 0), 3); /* 200, 200, 50 */
	assert_int_equal(count("shot_channel"), 50 * FIXTURE_SHOT_CHANNELS);
	assert_int_equal(sql_integer("SELECT min(shot) FROM shot_channel"), 451);
	assert_int_equal(count("shot"), 500);
	assert_int_equal(forget(fixture_time(451), none, 0), 1);
	/* Somebody who opens it anew goes on where they are. */
	ledger_close(ledger);
	ledger = ledger_open(fixture.path, NULL, &error);
	assert_non_null(ledger);
	assert_int_equal(forget(fixture_time(452), none, 0), 1);
	assert_int_equal(sql_integer("SELECT min(shot) FROM shot_channel"), 452);
}

static void
channels_that_a_store_lacks_stay(void **state)
{
	(void)state;

	write_many(0, 1, 10);
	forget(fixture_time(11), none, 2); /* both lack all of it */
	assert_int_equal(count("shot_channel"), 10 * FIXTURE_SHOT_CHANNELS);
	deliver("plant", "shot", 10);
	forget(fixture_time(11), none, 2); /* the other lacks it still */
	assert_int_equal(count("shot_channel"), 10 * FIXTURE_SHOT_CHANNELS);
	deliver("head", "shot", 4);
	forget(fixture_time(11), none, 2);
	assert_int_equal(sql_integer("SELECT min(shot) FROM shot_channel"), 5);
	forget(fixture_time(11), none, 1); /* "head" was taken away */
	assert_int_equal(count("shot_channel"), 0);
}

static void
a_shot_of_the_future_keeps_nothing_of_others(void **state)
{
	bool more = true;
	(void)state;

	fixture.trace_bytes = 100;
	write_shots(0, 5000, 5000); /* while the clock was wrong */
	write_shots(1, 1, 5);
	forget(fixture_time(6), none, 0);
	assert_int_equal(count("shot_channel"), FIXTURE_SHOT_CHANNELS);
	assert_int_equal(
	    ledger_forget_traces(ledger, fixture_time(6), &more, &error), 0);
	assert_int_equal(count("trace"), 1);
}

static void
a_shot_without_its_channels_is_made_again_without_a_difference(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	bool changed = true;
	(void)state;

	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	forget(fixture_time(2), none, 0);
	assert_int_equal(
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error),
	    0);
	assert_false(changed);
	assert_int_equal(count("shot_channel"), 0);
	shot_free(shot);
}

/* --- shots ---------------------------------------------------------------------------- */

/* With a row of each kind that hangs on it. */
static void
write_shot_with_all(int64_t shot_no)
{
	struct shot *shot;
	bool changed = false;

	fixture.trace_bytes = 100;
	shot = fixture_shot(&fixture, 0, shot_no);
	shot->value[FEATURE_SAG_S] = NAN;
	shot->absent[FEATURE_SAG_S] = ABSENT_NOT_APPLICABLE;
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	shot->value[FEATURE_HEAT_S] += 1;
	int64_t id = sql_integer("SELECT max(id) FROM shot");
	assert_int_equal(ledger_put_recomputed(
			     ledger, &fixture.settings, id, shot, &changed, &error),
	    0);
	assert_true(changed);
	shot_free(shot);
}

static void
old_shots_go_with_all_that_hangs_on_them(void **state)
{
	static const char *const hanging[] = {
	    "absent", "earlier", "superseded", "trace"};
	(void)state;

	for (int64_t no = 1; no <= 4; no++)
		write_shot_with_all(no);
	put_event(fixture_time(2));
	put_event(fixture_time(9));
	for (int i = 0; i < 4; i++)
		assert_int_equal(count(hanging[i]), 4);
	forget(none, fixture_time(3), 0);
	assert_int_equal(count("shot"), 2);
	assert_int_equal(sql_integer("SELECT min(shot_no) FROM shot"), 3);
	for (int i = 0; i < 4; i++)
		assert_int_equal(count(hanging[i]), 2);
	assert_int_equal(count("shot_channel"), 2 * FIXTURE_SHOT_CHANNELS);
	assert_int_equal(count("event"), 1);
	assert_int_equal(count("setup"), 1);
	assert_intact();
}

static void
the_newest_shot_of_each_line_stays_and_numbers_go_on(void **state)
{
	int64_t shot_no = 0;
	struct wall closed_at;
	(void)state;

	write_shots(0, 1, 5);
	write_shots(1, 1, 3);
	write_shots(0, 6, 6);
	forget(none, fixture_time(1000), 0);
	assert_int_equal(count("shot"), 2);
	assert_int_equal(
	    ledger_last_shot(ledger, "line-1", &shot_no, &closed_at, &error), 0);
	assert_int_equal(shot_no, 6);
	assert_int_equal(
	    ledger_last_shot(ledger, "line-2", &shot_no, &closed_at, &error), 0);
	assert_int_equal(shot_no, 3);
}

/* A store whose cursor stands there would miss all that came under lower numbers. */
static void
change_numbers_go_on_after_everything_else_is_forgotten(void **state)
{
	const struct ledger_entry entry = {
	    "line-1", CONTEXT_TOOL, "T-1", fixture_time(1), seconds(99999)};
	const struct ledger_entry until = {
	    "line-1", CONTEXT_TOOL, "", fixture_time(2), seconds(99999)};
	int64_t relabelled;
	(void)state;

	write_shots(0, 1, 3);
	put_event(fixture_time(1)); /* 4 */
	assert_int_equal(ledger_put_context(ledger, &until, &relabelled, &error), 0);
	assert_int_equal(ledger_put_context(ledger, &entry, &relabelled, &error), 0);
	assert_int_equal(relabelled, 1); /* shot 1 has change 5 now, the last */
	forget(none, fixture_time(1000), 0);
	assert_int_equal(count("shot"), 2);
	assert_int_equal(count("event"), 1);
	write_shots(0, 4, 4);
	assert_int_equal(sql_integer("SELECT max(change) FROM shot"), 6);
	put_event(fixture_time(5));
	forget(none, fixture_time(1000), 0);
	assert_int_equal(sql_integer("SELECT max(change) FROM event"), 7);
	assert_int_equal(count("event"), 1);
	assert_int_equal(count("shot"), 1);
}

/* Else a daemon that is up for longer would not be known to run. */
static void
what_tells_whether_a_line_was_logged_then_stays(void **state)
{
	(void)state;
	put_turn("line-1", "start", fixture_time(1)); /* 1 */
	put_turn("line-2", "start", fixture_time(1)); /* 2: is up since */
	put_turn("line-1", "end", fixture_time(2));   /* 3 */
	put_turn("line-1", "start", fixture_time(2)); /* 4: held at 5 */
	put_event(fixture_time(3));                   /* 5 */
	put_turn("line-1", "end", fixture_time(8));   /* 6 */
	put_event(fixture_time(9));                   /* 7 */
	forget(none, fixture_time(5), 0);
	assert_int_equal(count("event"), 4);
	assert_int_equal(sql_integer("SELECT sum(change) FROM event"), 2 + 4 + 6 + 7);
	forget(none, fixture_time(1000), 0);
	assert_int_equal(sql_integer("SELECT sum(change) FROM event"), 2 + 6 + 7);
}

static void
shots_and_events_that_a_store_lacks_stay_with_what_is_younger(void **state)
{
	const struct ledger_entry entry = {
	    "line-1", CONTEXT_TOOL, "T-1", fixture_time(3), seconds(99999)};
	const struct ledger_entry until = {
	    "line-1", CONTEXT_TOOL, "", fixture_time(4), seconds(99999)};
	int64_t relabelled;
	(void)state;

	write_shots(0, 1, 6);
	put_event(fixture_time(1)); /* 7 */
	put_event(fixture_time(2)); /* 8 */
	put_event(fixture_time(9)); /* 9 */
	deliver("plant", "shot", 6);
	forget(none, fixture_time(1000), 2);
	assert_int_equal(count("shot"), 6);
	assert_int_equal(count("event"), 3);
	deliver("head", "shot", 6);
	deliver("head", "event", 9);
	deliver("plant", "event", 7);
	assert_int_equal(ledger_put_context(ledger, &until, &relabelled, &error), 0);
	assert_int_equal(ledger_put_context(ledger, &entry, &relabelled, &error), 0);
	assert_int_equal(relabelled, 1); /* shot 3 is to go out again, as 10 */
	write_shots(0, 7, 7);
	forget(none, fixture_time(1000), 2);
	assert_int_equal(sql_integer("SELECT min(shot_no) FROM shot"), 3);
	assert_int_equal(count("shot"), 5);
	assert_int_equal(sql_integer("SELECT min(change) FROM event"), 8);
	deliver("plant", "shot", 10);
	deliver("head", "shot", 10);
	forget(none, fixture_time(1000), 2);
	assert_int_equal(count("shot"), 1);
}

static void
copies_in_reference_runs_stay(void **state)
{
	const struct ledger_reference run = {.name = "autumn",
	    .line = "line-1",
	    .side = "",
	    .recipe = "12",
	    .tool = "",
	    .from = fixture_time(1),
	    .to = fixture_time(2),
	    .frozen = seconds(9999),
	    .setup = 1,
	    .note = ""};
	static struct ledger_reference_shot shots[2];
	int64_t id = 0;
	(void)state;

	write_shots(0, 1, 5);
	for (int i = 0; i < 2; i++) {
		shots[i].shot_no = i + 1;
		shots[i].filed_at = fixture_time(i + 1);
		for (int k = 0; k < FEATURE_COUNT; k++)
			shots[i].value[k] = k == FEATURE_HEAT_S ? 100.0 + i : NAN;
	}
	assert_int_equal(ledger_put_reference(ledger, &run, shots, 2, &id, &error), 0);
	forget(fixture_time(1000), fixture_time(1000), 0);
	assert_int_equal(count("shot"), 1);
	assert_int_equal(count("reference_shot"), 2);
	assert_int_equal(sql_integer("SELECT sum(heat_s) FROM reference_shot"), 201);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM pragma_foreign_key_check"), 0);
}

static void
many_old_shots_go_two_hundred_at_a_time(void **state)
{
	(void)state;

	write_many(1, 1, 1001);
	assert_int_equal(forget(none, fixture_time(2000), 0), 5);
	assert_int_equal(count("shot"), 1);
	assert_int_equal(forget(none, fixture_time(2000), 0), 1);
}

static void
refuse(const char *destination, int64_t change)
{
	const struct ledger_refusal refusal = {
	    destination, change, "shot x=1 1", "no", seconds(1)};

	assert_int_equal(ledger_put_refusal(ledger, &refusal, &error), 0);
}

static void
what_a_store_refused_stays_and_nothing_waits_for_it(void **state)
{
	(void)state;

	write_shots(0, 1, 6);
	put_event(fixture_time(1)); /* 7 */
	put_event(fixture_time(2)); /* 8 */
	put_event(fixture_time(9)); /* 9 */
	for (int i = 0; i < 2; i++) {
		deliver(stores[i], "shot", 9);
		deliver(stores[i], "event", 9);
	}
	refuse("head", 2);
	refuse("taken-away", 3);
	refuse("plant", 7);
	forget(fixture_time(1000), fixture_time(1000), 2);
	assert_int_equal(count("shot"), 2); /* and the newest */
	assert_int_equal(sql_integer("SELECT min(shot_no) FROM shot"), 2);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM shot_channel WHERE shot = 2"),
	    FIXTURE_SHOT_CHANNELS);
	assert_int_equal(count("shot_channel"), FIXTURE_SHOT_CHANNELS);
	assert_int_equal(count("event"), 2);
	assert_int_equal(sql_integer("SELECT min(change) FROM event"), 7);
	/* Once it has gone out it goes here too. */
	sql_run("DELETE FROM refusal");
	forget(none, fixture_time(1000), 2);
	assert_int_equal(count("shot"), 1);
	assert_int_equal(count("event"), 1);
}

/* --- rings ------------------------------------------------------------------------------ */

static void
rings_of_stores_that_are_no_more_go(void **state)
{
	static const char *const destinations[] = {"old", "plant", "head"};
	(void)state;

	for (int64_t i = 0; i < 900; i++) {
		const struct ledger_reading reading = {0, "line-1", seconds(i), "x", 1};
		assert_int_equal(ledger_put_reading(ledger, destinations[i % 3],
				     &reading, seconds(0), &error),
		    0);
	}
	forget(none, none, 2);
	assert_int_equal(count("ring"), 2);
	assert_int_equal(count("reading"), 600);
	assert_int_equal(
	    sql_integer("SELECT count(*) FROM reading LEFT JOIN ring"
			" ON ring.id = reading.ring WHERE destination IS NULL"),
	    0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(channels_of_old_shots_go_and_the_shots_stay),
	    TEST(channels_that_a_store_lacks_stay),
	    TEST(a_shot_of_the_future_keeps_nothing_of_others),
	    TEST(a_shot_without_its_channels_is_made_again_without_a_difference),
	    TEST(old_shots_go_with_all_that_hangs_on_them),
	    TEST(the_newest_shot_of_each_line_stays_and_numbers_go_on),
	    TEST(change_numbers_go_on_after_everything_else_is_forgotten),
	    TEST(what_tells_whether_a_line_was_logged_then_stays),
	    TEST(shots_and_events_that_a_store_lacks_stay_with_what_is_younger),
	    TEST(what_a_store_refused_stays_and_nothing_waits_for_it),
	    TEST(copies_in_reference_runs_stay),
	    TEST(many_old_shots_go_two_hundred_at_a_time),
	    TEST(rings_of_stores_that_are_no_more_go),
	};
	return cmocka_run_group_tests_name("ledger, keep", tests, NULL, NULL);
}
