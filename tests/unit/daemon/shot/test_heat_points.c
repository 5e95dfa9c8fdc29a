/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Set points that are read as a heat begins: each sheet gets those that were asked for after
 * its own heat began, also over a restart. */
#include "tests/unit/daemon/shot/player.h"

#include "tests/unit/seed.h"

static const char set_points[] =
    "[device sets]\nline = r\naddress = 127.0.0.1:1504\nunit_id = 1\nperiod_ms = 1000\n"
    "[channel sets.zone_set]\nrole = set_point\ncount = 2\ntable = holding\n"
    "address = 0\ntype = uint16\nscale = 0.1\nunit = %\nat_heat = yes\n";

enum { SETS = 2, REREAD_MS = 60000 };

/* What reads them: at once as a heat begins, and every minute besides. */
struct reader {
	struct player player;
	struct settings *settings;
	double set[SETS];          /* as the machine has them now */
	int64_t due_ms, reread_ms; /* 0: not hurried */
	int answer_after_ms;       /* since it was hurried */
	bool deaf;                 /* nobody hurries */
	int heats, changes;
	double latest_s; /* a record came, after its sheet had left */
	char text[160];
	unsigned char saved[TRACKER_SAVED_MAX];
	size_t saved_bytes;
};

static void
hurry(void *arg)
{
	struct reader *reader = arg;

	reader->heats++;
	if (!reader->deaf)
		reader->due_ms = reader->player.now_ms + reader->answer_after_ms;
}

static void
take(void *arg, struct shot *shot)
{
	struct reader *reader = arg;
	const struct player *player = &reader->player;
	int64_t now_ns = (player->now_ms + player->wall_offset_ms) * 1000000;

	reader->latest_s =
	    fmax(reader->latest_s, (double)(now_ns - shot->closed_at.ns) / 1e9);
	player_take(&reader->player, shot);
}

static void
event(void *arg, struct wall at, const char *kind, const char *text)
{
	struct reader *reader = arg;

	player_event(&reader->player, at, kind, text);
	if (strcmp(kind, "set_points") != 0)
		return;
	reader->changes++;
	snprintf(reader->text, sizeof(reader->text), "%s", text);
}

static void
save(void *arg)
{
	struct reader *reader = arg;

	reader->saved_bytes =
	    tracker_save(reader->player.tracker, reader->saved, sizeof(reader->saved));
}

static void
start(struct reader *reader)
{
	struct tracker_start start = {
	    .last_shot_no = (int64_t)reader->player.shot_count,
	    .saved = reader->saved_bytes > 0 ? reader->saved : NULL,
	    .saved_bytes = reader->saved_bytes,
	    .no_traces = true};

	tracker_free(reader->player.tracker);
	reader->player.tracker = tracker_new(reader->settings, 0, start,
	    (struct tracker_sink){.shot = take,
		.event = event,
		.moved = save,
		.heat = hurry,
		.arg = reader});
	reader->due_ms = reader->reread_ms = 0;
}

/* A scan of the set points, asked for 100 ms ago. */
static void
read_now(struct reader *reader)
{
	struct scan *scan = calloc(1, scan_bytes(SETS));

	scan->device = 2;
	scan->at.ns = reader->player.now_ms * 1000000;
	scan->sent.ns = scan->at.ns - 100000000;
	scan->wall.ns =
	    (reader->player.now_ms + reader->player.wall_offset_ms) * 1000000;
	scan->count = SETS;
	for (int i = 0; i < SETS; i++)
		scan->readings[i] = (struct reading){reader->set[i], QUALITY_GOOD, 0};
	tracker_scan(reader->player.tracker, scan);
	free(scan);
}

/* Behind every other scan. */
static void
read_due(void *arg, const struct scan *other)
{
	struct reader *reader = arg;
	int64_t now_ms = reader->player.now_ms;

	(void)other;
	if (reader->due_ms > 0 && now_ms >= reader->due_ms) {
		reader->due_ms = 0;
		read_now(reader);
	}
	if (now_ms - reader->reread_ms >= REREAD_MS) {
		reader->reread_ms = now_ms;
		read_now(reader);
	}
}

static int
setup(void **state)
{
	struct reader *reader = calloc(1, sizeof(*reader));
	char text[sizeof(player_ini) + sizeof(set_points)];

	snprintf(text, sizeof(text), "%s%s", player_ini, set_points);
	reader->settings = player_parse(text);
	player_init(&reader->player);
	reader->answer_after_ms = 400;
	reader->set[0] = 0.40;
	reader->set[1] = 0.60;
	start(reader);
	reader->player.also = read_due;
	reader->player.also_arg = reader;
	*state = reader;
	return 0;
}

static int
teardown(void **state)
{
	struct reader *reader = *state;

	player_release(&reader->player);
	settings_free(reader->settings);
	free(reader);
	return 0;
}

#define READ(f) cmocka_unit_test_setup_teardown(f, setup, teardown)

/* Somebody sets a zone just before each index; the re-read a minute apart has not seen it. */
static void
play(struct reader *reader, int count)
{
	for (int i = 0; i < count; i++) {
		reader->set[0] += 0.01;
		player_cycles(&reader->player, 1);
	}
}

static void
a_sheet_gets_the_set_points_of_its_own_heat(void **state)
{
	struct reader *reader = *state;

	player_run(&reader->player, 10.0);
	play(reader, 6);
	assert_int_equal(reader->heats, 6);
	assert_int_equal(reader->changes, 5);
	assert_string_equal(reader->text, "sets: zone_set_1 45.0 -> 46.0 %");
	for (int sheet = 1; sheet < 4; sheet++) {
		assert_int_not_equal(shot_of(&reader->player, sheet)->set_points, 0);
		assert_true(shot_of(&reader->player, sheet)->set_points !=
			    shot_of(&reader->player, sheet + 1)->set_points);
	}
	/* and back to what they were */
	reader->set[0] = 0.40 + 0.01;
	player_cycles(&reader->player, 4);
	assert_true(shot_of(&reader->player, 7)->set_points ==
		    shot_of(&reader->player, 1)->set_points);
}

/* Twice the slowest of the other polls and a second, and never the minute between two reads of
 * the set points. */
static void
no_record_waits_for_the_next_read(void **state)
{
	struct reader *reader = *state;

	player_run(&reader->player, 10.0);
	play(reader, 4);
	assert_true(reader->player.shot_count > 2);
	assert_true(reader->latest_s > 0.5 && reader->latest_s < 5.0);
}

/* With a bus that answers after 4 s, and with one that is too slow: what was read before says
 * nothing, since it was changed meanwhile. */
static void
an_answer_is_waited_for_a_few_seconds(void **state)
{
	struct reader *reader = *state;

	reader->answer_after_ms = 4000;
	player_run(&reader->player, 10.0);
	play(reader, 3);
	assert_string_equal(reader->text, "sets: zone_set_1 42.0 -> 43.0 %");
	reader->answer_after_ms = 9000;
	play(reader, 2);
	assert_int_equal(reader->changes, 2);
	reader->answer_after_ms = 4000;
	player_cycles(&reader->player, 3);
	assert_int_equal(reader->changes, 3);
	assert_string_equal(reader->text, "sets: zone_set_1 43.0 -> 45.0 %");
	assert_int_not_equal(shot_of(&reader->player, 3)->set_points, 0);
	assert_int_equal(shot_of(&reader->player, 4)->set_points, 0);
	assert_int_equal(shot_of(&reader->player, 5)->set_points, 0);
	assert_true(shot_of(&reader->player, 6)->set_points != 0 &&
		    shot_of(&reader->player, 6)->set_points !=
			shot_of(&reader->player, 3)->set_points);
}

/* The ovens are silent from 130 s before a heat until after it has begun. */
static void
what_was_read_before_a_silence_is_not_taken_for_the_heats_own(void **state)
{
	struct reader *reader = *state;

	player_run(&reader->player, 10.0);
	player_cycles(&reader->player, 2);
	reader->player.also = NULL;
	player_cycles(&reader->player, 1);
	reader->set[0] += 0.01;
	player_index(&reader->player, true);
	player_run(&reader->player, 20.0);
	reader->player.also = read_due;
	player_stay(&reader->player, 80.0, 100.0, 120.0);
	player_cycles(&reader->player, 4);
	assert_int_not_equal(shot_of(&reader->player, 2)->set_points, 0);
	assert_int_equal(shot_of(&reader->player, 3)->set_points, 0);
	assert_int_equal(shot_of(&reader->player, 4)->set_points, 0);
	assert_true(shot_of(&reader->player, 5)->set_points != 0 &&
		    shot_of(&reader->player, 5)->set_points !=
			shot_of(&reader->player, 2)->set_points);
	assert_int_equal(reader->changes, 1);
}

/* The device is gone before the first heat: nothing is known, and nobody waits for ever. */
static void
without_any_reading_there_is_no_hash(void **state)
{
	struct reader *reader = *state;

	reader->player.also = NULL;
	player_run(&reader->player, 10.0);
	play(reader, 4);
	assert_int_equal(shot_of(&reader->player, 1)->set_points, 0);
	assert_int_equal(reader->changes, 0);
}

/* What stops the logger at any instant changes no sheet's set points. */
static void
a_restart_while_they_are_awaited_changes_nothing(void **state)
{
	struct reader *reader = *state;
	uint64_t right[6];
	unsigned seed = seed_take(5);

	player_run(&reader->player, 10.0);
	play(reader, 8);
	for (int sheet = 1; sheet < 6; sheet++)
		right[sheet] = shot_of(&reader->player, sheet)->set_points;
	for (unsigned round = 0; round < 12; round++) {
		int64_t offset_ms;

		teardown(state);
		setup(state);
		reader = *state;
		reader->answer_after_ms = 1500;
		srandom(seed * 100 + round);
		player_run(&reader->player, 10.0);
		for (int i = 0; i < 8; i++) {
			reader->set[0] += 0.01;
			player_index(&reader->player, true);
			/* the heat has begun, the answer may have come */
			offset_ms = random() % 30 * 100;
			player_run(&reader->player, (double)offset_ms / 1000.0);
			start(reader);
			player_stay(&reader->player, 100.0, 120.0, 140.0);
		}
		for (int sheet = 1; sheet < 6; sheet++)
			assert_true(shot_of(&reader->player, sheet)->set_points ==
				    right[sheet]);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    READ(a_sheet_gets_the_set_points_of_its_own_heat),
	    READ(no_record_waits_for_the_next_read),
	    READ(an_answer_is_waited_for_a_few_seconds),
	    READ(what_was_read_before_a_silence_is_not_taken_for_the_heats_own),
	    READ(without_any_reading_there_is_no_hash),
	    READ(a_restart_while_they_are_awaited_changes_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
