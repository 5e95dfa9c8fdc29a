/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots that are labelled or made anew: their revisions, and what they went by before. */
#include "daemon/ledger/ledger.h"

#include "tests/unit/daemon/ledger/ledger_pair.h"

static int64_t
enter(enum context_key key, const char *value, struct wall from)
{
	const struct ledger_entry entry = {"line-1", key, value, from, seconds(999999)};
	int64_t relabelled = -1;

	if (ledger_put_context(ledger, &entry, &relabelled, &error) != 0)
		fail_msg("%s", error.text);
	return relabelled;
}

static const struct ledger_shot *
shot_on_file(int64_t shot_no)
{
	const struct shots *shots =
	    read_shots((struct ledger_filter){.line = "line-1", .shot_no = shot_no});

	assert_int_equal(shots->count, 1);
	return &shots->list[0];
}

struct superseded {
	int count;
	struct ledger_superseded list[8];
};

static int
keep_superseded(void *arg, const struct ledger_superseded *row)
{
	struct superseded *superseded = arg;

	assert_true(superseded->count < 8);
	superseded->list[superseded->count++] = *row;
	return 0;
}

static const struct superseded *
read_superseded(int64_t shot_no)
{
	static struct superseded superseded;

	superseded.count = 0;
	assert_int_equal(ledger_read_superseded(reader, shot_on_file(shot_no)->id,
			     keep_superseded, &superseded, &error),
	    0);
	return &superseded;
}

static void
assert_went_by(const struct ledger_superseded *row, int64_t revision, const char *tool,
    const char *material)
{
	assert_int_equal(row->revision, revision);
	assert_string_equal(row->recipe, "12");
	assert_string_equal(row->tool, tool);
	assert_string_equal(row->material, material);
	assert_int_equal(row->outcome, SHOT_COMPLETE);
}

static void
a_shot_as_it_was_filed_has_revision_0_and_supersedes_nothing(void **state)
{
	(void)state;

	write_shots(0, 1, 2);
	assert_int_equal(enter(CONTEXT_TOOL, "", fixture_time(0)), 0); /* no news */
	assert_int_equal(enter(CONTEXT_NOTE, "hot today", fixture_time(0)), 0);
	assert_int_equal(shot_on_file(1)->revision, 0);
	assert_int_equal(read_superseded(1)->count, 0);
	assert_int_equal(read_superseded(2)->count, 0);
}

static void
each_relabelling_is_a_revision_and_keeps_what_was(void **state)
{
	const struct ledger_lot lot = {
	    .name = "L-1", .thickness_m = NAN, .stack_c = NAN, .material = "hdpe"};
	int64_t relabelled = 0;
	(void)state;

	write_shots(0, 1, 3);
	assert_int_equal(enter(CONTEXT_TOOL, "T-1", fixture_time(2)), 2);
	assert_int_equal(enter(CONTEXT_LOT, "L-1", fixture_time(2)), 2);
	assert_int_equal(ledger_put_lot(ledger, &lot, &relabelled, &error), 0);
	assert_int_equal(relabelled, 2);
	assert_int_equal(enter(CONTEXT_TOOL, "T-2", fixture_time(3)), 1);

	assert_int_equal(shot_on_file(1)->revision, 0);
	assert_int_equal(shot_on_file(2)->revision, 3);
	assert_int_equal(shot_on_file(3)->revision, 4);
	assert_int_equal(shot_on_file(3)->change, 10); /* 3 filed, 2 + 2 + 2 + 1 */
	const struct superseded *was = read_superseded(3);
	assert_int_equal(was->count, 4);
	assert_went_by(&was->list[0], 0, "", "abs");
	assert_went_by(&was->list[1], 1, "T-1", "abs");
	assert_went_by(&was->list[2], 2, "T-1", "abs");
	assert_went_by(&was->list[3], 3, "T-1", "hdpe");
	assert_int_equal(read_superseded(2)->count, 3);
	assert_int_equal(read_superseded(1)->count, 0);
}

static void
a_shot_made_again_is_a_revision_only_when_it_differs(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	bool changed = true;
	(void)state;

	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	assert_int_equal(
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error),
	    0);
	assert_false(changed);
	assert_int_equal(shot_on_file(1)->revision, 0);

	shot->outcome = SHOT_PARTIAL;
	assert_int_equal(
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error),
	    0);
	assert_true(changed);
	assert_int_equal(shot_on_file(1)->revision, 1);
	const struct superseded *was = read_superseded(1);
	assert_int_equal(was->count, 1);
	assert_went_by(&was->list[0], 0, "", "abs");
	shot->value[FEATURE_HEAT_S] += 1;
	assert_int_equal(
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error),
	    0);
	assert_int_equal(shot_on_file(1)->revision, 2);
	assert_int_equal(read_superseded(1)->list[1].outcome, SHOT_PARTIAL);
	shot_free(shot);
}

static void
nobody_changes_a_shot_past_its_revision(void **state)
{
	sqlite3 *db;
	(void)state;

	write_shots(0, 1, 1);
	assert_int_equal(sqlite3_open(fixture.path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, "UPDATE shot SET tool = 'T-9', change = 2",
			     NULL, NULL, NULL),
	    SQLITE_OK);
	sqlite3_close(db);
	assert_int_equal(shot_on_file(1)->revision, 1);
	assert_went_by(&read_superseded(1)->list[0], 0, "", "abs");
}

/* --- the channels of then ------------------------------------------------------------- */

struct names {
	int count;
	char first[LEDGER_NAME], role[LEDGER_NAME];
};

static int
keep_name(void *arg, const struct ledger_channel *channel)
{
	struct names *names = arg;

	assert_true(isnan(channel->mean));
	if (names->count++ == 0) {
		snprintf(names->first, sizeof names->first, "%s", channel->channel);
		snprintf(names->role, sizeof names->role, "%s", channel->role);
	}
	return 0;
}

static struct names
channels_then(int64_t shot_no, int64_t revision)
{
	struct names names = {0};

	assert_int_equal(
	    ledger_read_superseded_channels(
		reader, shot_on_file(shot_no)->id, revision, keep_name, &names, &error),
	    0);
	return names;
}

static void
use_other_channels(void)
{
	static char text[] = "[site]\nname = other\n";

	snprintf(fixture.channels[0].name, SETTINGS_NAME, "ceramic_1");
	fixture.channels[0].role = ROLE_OTHER;
	fixture_text(&fixture, text);
	assert_int_equal(
	    ledger_put_setup(ledger, &fixture.settings, seconds(1), &setup_id, &error),
	    0);
}

static void
the_channels_of_a_revision_are_told_as_they_were_called_then(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	bool changed = false;
	(void)state;

	shot->channel_count = 3;
	assert_int_equal(ledger_put_shot(ledger, &fixture.settings, shot, &error), 0);
	use_other_channels();
	shot->channel_count = 1;
	assert_int_equal(
	    ledger_put_recomputed(ledger, &fixture.settings, 1, shot, &changed, &error),
	    0);
	assert_true(changed);
	assert_int_equal(enter(CONTEXT_TOOL, "T-1", fixture_time(0)), 1);
	shot_free(shot);

	struct names names = channels_then(1, 0);
	assert_int_equal(names.count, 3);
	assert_string_equal(names.first, "zone_top_1");
	assert_string_equal(names.role, role_text(ROLE_ZONE_TOP));
	names = channels_then(1, 1);
	assert_int_equal(names.count, 1);
	assert_string_equal(names.first, "ceramic_1");
	assert_string_equal(names.role, role_text(ROLE_OTHER));
	assert_int_equal(channels_then(1, 2).count, 0); /* that is the shot's own */
}

static void
of_channels_that_were_forgotten_all_of_the_line_are_told(void **state)
{
	struct shot *shot = fixture_shot(&fixture, 0, 1);
	(void)state;

	shot->channel_count = 3;
	write_shot_and_free(shot);
	sql_run("DELETE FROM shot_channel");
	use_other_channels();
	assert_int_equal(enter(CONTEXT_TOOL, "T-1", fixture_time(0)), 1);
	struct names names = channels_then(1, 0);
	assert_int_equal(names.count, FIXTURE_SHOT_CHANNELS + 1);
	assert_string_equal(names.first, "zone_top_1");
}

static void
the_change_of_a_shot_tells_that_it_was_made_anew_meanwhile(void **state)
{
	int64_t change = -1;
	(void)state;

	write_shots(0, 1, 2);
	assert_int_equal(ledger_read_change(reader, 1, &change, &error), 0);
	assert_int_equal(change, 1);
	assert_int_equal(enter(CONTEXT_TOOL, "T-1", fixture_time(0)), 2);
	assert_int_equal(ledger_read_change(reader, 1, &change, &error), 0);
	assert_int_equal(change, shot_on_file(1)->change);
	assert_int_equal(change, 3);
	assert_int_equal(ledger_read_change(reader, 99, &change, &error), 0);
	assert_int_equal(change, 0);
}

/* --- the hash of a configuration ------------------------------------------------------ */

static void
the_hash_of_a_configuration_is_that_of_its_settings(void **state)
{
	char hash[17] = "";
	(void)state;

	assert_int_equal(ledger_read_setup_hash(reader, setup_id, hash, &error), 0);
	assert_string_equal(hash, fixture.settings.hash);
	assert_int_equal(
	    ledger_read_setup_hash(reader, 99, hash, &error), ERROR_NOT_FOUND);
	assert_non_null(strstr(error.text, "has no configuration 99"));
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    TEST(a_shot_as_it_was_filed_has_revision_0_and_supersedes_nothing),
	    TEST(each_relabelling_is_a_revision_and_keeps_what_was),
	    TEST(a_shot_made_again_is_a_revision_only_when_it_differs),
	    TEST(nobody_changes_a_shot_past_its_revision),
	    TEST(the_channels_of_a_revision_are_told_as_they_were_called_then),
	    TEST(of_channels_that_were_forgotten_all_of_the_line_are_told),
	    TEST(the_change_of_a_shot_tells_that_it_was_made_anew_meanwhile),
	    TEST(the_hash_of_a_configuration_is_that_of_its_settings),
	};
	return cmocka_run_group_tests_name("ledger, revision", tests, NULL, NULL);
}
