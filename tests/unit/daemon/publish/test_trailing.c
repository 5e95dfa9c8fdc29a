/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Cursors that trail, that somebody sets back, and live readings between the shots: with
 * the faults chosen, and with faults, restarts, settings back and corrections at random.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdlib.h>
#include <string.h>

#include "daemon/publish/delivery.h"
#include "daemon/publish/reading_pack.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/scripted_store.h"

static const double FORGETS_S = 0.15, SETTLE_S = 0.25;

struct scene {
	struct scripted_store store;
	struct filled_ledger filled;
	struct store_settings *settings;
	struct delivery *delivery;
	struct error error;
	int64_t readings; /* put into the ring */
	int64_t dropped;  /* from it, before they went out */
};

static void
scene_open(struct scene *scene, int shots, double settle_s)
{
	memset(scene, 0, sizeof(*scene));
	scripted_start(&scene->store);
	filled_open(&scene->filled, scene->store.port);
	scene->settings = &scene->filled.settings->stores[0];
	scene->settings->settle_s = settle_s;
	scene->store.forgets_s = settle_s > 0 ? FORGETS_S : 0;
	filled_add_shots(&scene->filled, shots);
}

static void
scene_close(struct scene *scene)
{
	delivery_close(scene->delivery);
	scripted_stop(&scene->store);
	filled_close(&scene->filled);
}

static enum delivery_state
step(struct scene *scene)
{
	double retry_after_s;

	if (scene->delivery == NULL)
		scene->delivery = delivery_open(scene->filled.settings, 0,
		    scene->filled.path, NULL, NULL, &scene->error);
	assert_non_null(scene->delivery);
	return delivery_step(scene->delivery, &retry_after_s, &scene->error);
}

static void
restart(struct scene *scene)
{
	delivery_close(scene->delivery);
	scene->delivery = NULL;
}

/* Until everything is sent; what settles may still settle. */
static void
send_all(struct scene *scene)
{
	for (int steps = 0; step(scene) != DELIVERY_DONE; steps++)
		assert_true(steps < 20000);
}

/* Until the cursors are at the end. */
static void
settle_all(struct scene *scene)
{
	for (int steps = 0;
	     step(scene) != DELIVERY_DONE || delivery_due_s(scene->delivery) < 1e9;
	     steps++) {
		assert_true(steps < 20000);
		if (delivery_due_s(scene->delivery) < 1e9)
			usleep(2000);
	}
}

static int64_t
cursor(struct scene *scene, const char *stream)
{
	struct ledger_delivered there = {.change = -1};

	assert_int_equal(
	    ledger_delivered(scene->filled.ledger, "plant", stream, &there, NULL), 0);
	return there.change;
}

static void
kill_store(struct scene *scene)
{
	int kills = scene->store.kills;

	scene->store.killed = true;
	while (scene->store.kills == kills)
		usleep(1000);
}

/* Puts a set of readings of two channels into the ring; its mean tells its number. */
static void
add_reading(struct scene *scene, struct wall keep_from)
{
	double number = (double)++scene->readings;
	const struct reading_channel channels[] = {
	    {"ovens", "zone_top_1", "zone_top", number, 1, 1},
	    {"ovens", "zone_top_2", "zone_top", number, 2, 0.5},
	};
	unsigned char *bytes;
	size_t length;

	assert_int_equal(reading_pack(channels, 2, &bytes, &length, NULL), 0);
	const struct ledger_reading reading = {.line = "line-3",
	    .at = {FILLED_START_NS + scene->readings * INT64_C(10000000000)},
	    .bytes = bytes,
	    .byte_count = length};
	assert_int_equal(ledger_put_reading(scene->filled.ledger, "plant", &reading,
			     keep_from, &scene->error),
	    0);
	free(bytes);
}

/* --- what must be there in the end ---------------------------------------------------- */

static int
compare_lines(const void *a, const void *b)
{
	return strcmp(*(char *const *)a, *(char *const *)b);
}

/* The different lines of `text`, which is cut up, in order. */
static size_t
sorted_lines(char *text, char ***lines)
{
	size_t count = 0, kept = 0;

	*lines = calloc(strlen(text) + 1, sizeof(**lines));
	assert_non_null(*lines);
	for (char *line; text != NULL && (line = strsep(&text, "\n")) != NULL;)
		if (*line != '\0')
			(*lines)[count++] = line;
	qsort(*lines, count, sizeof(**lines), compare_lines);
	for (size_t i = 0; i < count; i++)
		if (i == 0 || strcmp((*lines)[i], (*lines)[kept - 1]) != 0)
			(*lines)[kept++] = (*lines)[i];
	return kept;
}

/* Of a shot as it was before somebody labelled it. */
static bool
is_of_earlier_revision(const char *line)
{
	return strncmp(line, "shot", 4) == 0;
}

/* The store has every line of the ledger; and no other, but readings and those of earlier
 * revisions where there are any. */
static void
assert_all_there(struct scene *scene, bool relabelled)
{
	struct text expected = filled_all_lines(&scene->filled);
	char **there, **wanted;
	char *copy = strdup(scene->store.kept.bytes);
	size_t there_count = sorted_lines(copy, &there);
	size_t wanted_count = sorted_lines(expected.bytes, &wanted), j = 0;
	int64_t readings = 0;

	for (size_t i = 0; i < there_count; i++) {
		if (j < wanted_count && strcmp(there[i], wanted[j]) == 0)
			j++;
		else if (strncmp(there[i], "reading,", 8) == 0)
			readings++;
		else if (!relabelled || !is_of_earlier_revision(there[i]))
			fail_msg("not of the ledger: %.200s", there[i]);
	}
	if (j < wanted_count)
		fail_msg("missing: %.200s", wanted[j]);
	assert_int_equal(readings, 2 * (scene->readings - scene->dropped));
	free(there);
	free(wanted);
	free(copy);
	text_release(&expected);
}

/* --- settling --------------------------------------------------------------------------- */

static void
the_cursor_trails_and_status_can_tell(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 20, SETTLE_S);
	double start_s = scripted_now_s();
	send_all(&scene);
	double sent_s = scripted_now_s();
	if (sent_s - start_s < SETTLE_S) { /* else this machine is too busy to tell */
		assert_int_equal(cursor(&scene, "shot"), 0);
		assert_int_equal(delivery_counts(scene.delivery)->settling, 20);
		assert_true(delivery_due_s(scene.delivery) <= SETTLE_S);
	}
	settle_all(&scene);
	assert_true(scripted_now_s() - start_s >= SETTLE_S);
	assert_int_equal(delivery_counts(scene.delivery)->settling, 0);
	assert_true(cursor(&scene, "shot") >= 20);
	assert_int_equal(delivery_counts(scene.delivery)->again, 0);
	kill_store(&scene);
	assert_all_there(&scene, false);
	scene_close(&scene);
}

/* What a store acknowledged and then lost comes again, whenever it was killed. */
static void
a_store_killed_after_an_acknowledgement_has_everything(void **state)
{
	struct scene scene;
	(void)state;

	for (int moment = 0; moment < 6; moment++) {
		scene_open(&scene, 30, SETTLE_S);
		scene.settings->batch_lines = 400;
		for (int i = 0; i < 2 + 3 * moment; i++)
			step(&scene);
		kill_store(&scene);
		settle_all(&scene);
		kill_store(&scene);
		assert_all_there(&scene, false);
		assert_true(delivery_counts(scene.delivery)->again > 0);
		scene_close(&scene);
	}
}

/* Idle, with everything sent: before the cursor moves somebody looks at the connection. */
static void
a_store_killed_while_nothing_is_sent_is_noticed(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 5, SETTLE_S);
	send_all(&scene);
	kill_store(&scene);
	usleep((useconds_t)(SETTLE_S * 1.2e6));
	settle_all(&scene);
	assert_true(delivery_counts(scene.delivery)->again > 0);
	assert_all_there(&scene, false);
	scene_close(&scene);
}

static void
a_restart_sends_only_what_had_not_settled(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 20, SETTLE_S);
	settle_all(&scene);
	restart(&scene);
	int requests = scene.store.requests;
	assert_int_equal(step(&scene), DELIVERY_DONE);
	assert_int_equal(scene.store.requests, requests);

	filled_add_shots(&scene.filled, 1);
	send_all(&scene);
	assert_int_equal(scene.store.requests, requests + 1);
	restart(&scene); /* nobody waited for it */
	text_clear(&scene.store.kept);
	send_all(&scene);
	/* Unless this machine was so busy that it had settled before the restart. */
	assert_in_range(scene.store.requests, requests + 1, requests + 2);
	assert_null(strstr(scene.store.kept.bytes, " shot_no=20i,"));
	scene_close(&scene);
}

static struct reply
cut_each(void *arg, int request, const char *lines)
{
	(void)arg, (void)request, (void)lines;
	return (struct reply){MANNER_LAST, 204, 0, NULL};
}

/* A proxy that closes each connection after its answer: nothing can ever be sure. */
static void
a_store_that_closes_each_connection_is_told_of(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 5, SETTLE_S);
	scene.store.script = cut_each;
	for (int i = 0; step(&scene) != DELIVERY_LATER; i++) {
		assert_true(i < 20000);
		usleep(2000);
	}
	assert_int_equal(cursor(&scene, "shot"), 0);
	assert_non_null(strstr(scene.error.text, "closes each connection"));
	scene.store.script = NULL;
	settle_all(&scene);
	assert_all_there(&scene, false);
	scene_close(&scene);
}

/* --- set back --------------------------------------------------------------------------- */

static void
a_cursor_set_back_while_it_runs_is_followed(void **state)
{
	struct scene scene;
	int64_t shots = 0, events = 0;
	(void)state;

	for (int i = 0; i < 4; i++) {
		scene_open(&scene, 40, i % 2 == 0 ? 0 : SETTLE_S);
		scene.settings->batch_lines = 300;
		filled_add_event(&scene.filled, "note", "too");
		if (i < 2)
			settle_all(&scene);
		else
			for (int steps = 0; steps < 7; steps++)
				step(&scene);
		/* The store has lost all, say. */
		struct wall from = {
		    FILLED_START_NS + (int64_t)(10.5 * FILLED_PERIOD_S * 1e9)};
		if (i >= 2)
			from.ns = 1;
		assert_int_equal(ledger_set_back(scene.filled.ledger, "plant", from,
				     &shots, &events, NULL),
		    0);
		if (i >= 2)
			text_clear(&scene.store.kept);
		settle_all(&scene);
		assert_all_there(&scene, false);
		scene_close(&scene);
	}
}

/* --- readings --------------------------------------------------------------------------- */

static void
readings_go_out_between_shots_and_behind_them(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 60, 0);
	scene.settings->reading_period_s = 10;
	scene.settings->batch_lines = 200;
	for (int i = 0; i < 500; i++)
		add_reading(&scene, (struct wall){0});
	settle_all(&scene);
	assert_all_there(&scene, false);
	/* Shots begin; the readings come long before the last shot. */
	const char *kept = scene.store.kept.bytes;
	const char *reading = strstr(kept, "reading,");
	const char *last_shot = strstr(kept, " shot_no=60i,");
	assert_memory_equal(kept, "shot,", 5);
	assert_true(reading < last_shot);
	assert_int_equal(cursor(&scene, "reading"), 500);
	assert_int_equal(delivery_counts(scene.delivery)->lost_readings, 0);
	scene_close(&scene);
}

static void
readings_that_the_ring_dropped_are_counted(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 1, 0);
	scene.settings->reading_period_s = 10;
	for (int i = 0; i < 10; i++)
		add_reading(&scene, (struct wall){0});
	settle_all(&scene);
	/* A long outage: what is from before the 1,990th goes, by and by. */
	for (int i = 0; i < 2000; i++)
		add_reading(&scene,
		    (struct wall){
			FILLED_START_NS + INT64_C(1990) * INT64_C(10000000000)});
	settle_all(&scene);
	scene.dropped = delivery_counts(scene.delivery)->lost_readings;
	assert_in_range(scene.dropped, 1500, 1990);
	assert_all_there(&scene, false);
	restart(&scene);
	assert_int_equal(step(&scene), DELIVERY_DONE);
	assert_int_equal(delivery_counts(scene.delivery)->lost_readings, scene.dropped);
	scene_close(&scene);
}

/* Without a period the store wants none, whatever is left in its ring. */
static void
a_store_that_wants_no_readings_gets_none(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 1, 0);
	add_reading(&scene, (struct wall){0});
	settle_all(&scene);
	assert_null(strstr(scene.store.kept.bytes, "reading,"));
	scene_close(&scene);
}

static void
readings_that_cannot_be_read_are_passed_and_counted(void **state)
{
	struct scene scene;
	const struct ledger_reading damaged = {.line = "line-3",
	    .at = {FILLED_START_NS},
	    .bytes = "rubbish",
	    .byte_count = 7};
	(void)state;

	scene_open(&scene, 1, SETTLE_S);
	scene.settings->reading_period_s = 10;
	assert_int_equal(ledger_put_reading(scene.filled.ledger, "plant", &damaged,
			     (struct wall){0}, NULL),
	    0);
	settle_all(&scene);
	assert_int_equal(delivery_counts(scene.delivery)->lost_readings, 1);
	add_reading(&scene, (struct wall){0});
	settle_all(&scene);
	assert_all_there(&scene, false);
	scene_close(&scene);
}

/* --- a head that is stuck ---------------------------------------------------------------- */

static struct reply
never_the_seventh(void *arg, int request, const char *lines)
{
	(void)arg, (void)request;
	if (strstr(lines, "revision=0 shot_no=7i,filed_us") != NULL)
		return (struct reply){MANNER_ANSWER_ONLY, 500, 0, "panic"};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static int
take_change(void *arg, const struct ledger_shot *shot)
{
	*(int64_t *)arg = shot->change;
	return 0;
}

static int64_t
change_of_shot(struct scene *scene, int64_t shot_no)
{
	struct ledger_read *read = ledger_read_open(scene->filled.path, NULL);
	const struct ledger_filter one = {.line = "line-3", .shot_no = shot_no};
	int64_t change = 0;

	assert_int_equal(
	    ledger_read_shots(read, &one, false, take_change, &change, NULL), 0);
	ledger_read_close(read);
	return change;
}

/* It is told, down to the line; what stands before it gets through. */
static void
what_is_stuck_is_found_and_told(void **state)
{
	struct scene scene;
	(void)state;

	for (int i = 0; i < 2; i++) {
		scene_open(&scene, 20, i == 0 ? 0 : SETTLE_S);
		scene.store.script = never_the_seventh;
		for (int steps = 0; steps < 200; steps++) {
			enum delivery_state now = step(&scene);
			assert_true(now == DELIVERY_MOVING || now == DELIVERY_LATER);
		}
		struct delivery_stuck stuck = delivery_counts(scene.delivery)->stuck;
		assert_string_equal(stuck.stream, "shot");
		assert_true(stuck.tries > 30);
		assert_true(stuck.since.ns > 0);
		assert_non_null(strstr(scene.store.kept.bytes, " shot_no=6i,"));
		assert_null(strstr(scene.store.kept.bytes, " shot_no=8i,"));
		assert_int_equal(stuck.change, change_of_shot(&scene, 7));

		scene.store.script = NULL;
		settle_all(&scene);
		assert_int_equal(delivery_counts(scene.delivery)->stuck.tries, 0);
		assert_all_there(&scene, false);
		scene_close(&scene);
	}
}

/* --- all of it at random ------------------------------------------------------------------ */

static unsigned short dice[3];

static int
under(int bound)
{
	return (int)(nrand48(dice) % bound);
}

static struct reply
now_and_then_trouble(void *arg, int request, const char *lines)
{
	static const struct reply replies[] = {
	    {MANNER_ANSWER_ONLY, 503, 0, "down"},
	    {MANNER_ANSWER_ONLY, 429, 1, "slower"},
	    {MANNER_CLOSE, 0, 0, NULL},
	    {MANNER_CUT, 204, 0, NULL},
	    {MANNER_ANSWER_ONLY, 401, 0, "who"},
	    {MANNER_ANSWER_ONLY, 500, 0, NULL},
	    {MANNER_ANSWER_ONLY, 413, 0, "large"},
	    {MANNER_LAST, 204, 0, NULL},
	    {MANNER_DIE, 0, 0, NULL},
	};
	unsigned short *own = arg;
	(void)request;

	/* Of one line alone no store says that it is too large. */
	if (nrand48(own) % 4 != 0)
		return (struct reply){MANNER_ANSWER, 204, 0, NULL};
	struct reply reply =
	    replies[(size_t)nrand48(own) % (sizeof(replies) / sizeof(replies[0]))];
	const char *end = strchr(lines, '\n');
	if (reply.status == 413 && (end == NULL || end[1] == '\0'))
		reply = (struct reply){MANNER_ANSWER, 204, 0, NULL};
	return reply;
}

static void
relabel(struct scene *scene)
{
	char tool[16];
	int64_t relabelled;
	const struct ledger_entry entry = {"line-3", CONTEXT_TOOL, tool,
	    (struct wall){
		FILLED_START_NS + (int64_t)(under(40) * FILLED_PERIOD_S * 1e9)},
	    (struct wall){FILLED_START_NS}};

	snprintf(tool, sizeof(tool), "T-%d", under(100));
	assert_int_equal(ledger_put_context(
			     scene->filled.ledger, &entry, &relabelled, &scene->error),
	    0);
}

static void
set_back(struct scene *scene)
{
	int64_t shots, events;
	struct wall from = {
	    FILLED_START_NS + (int64_t)(under(40) * FILLED_PERIOD_S * 1e9)};

	assert_int_equal(ledger_set_back(scene->filled.ledger, "plant", from, &shots,
			     &events, &scene->error),
	    0);
}

static void
do_something(struct scene *scene)
{
	switch (under(40)) {
	case 0:
		filled_add_shots(&scene->filled, 1 + under(6));
		break;
	case 1:
		filled_add_event(&scene->filled, "note", "something");
		break;
	case 2:
	case 3:
		add_reading(scene, (struct wall){0});
		break;
	case 4:
		restart(scene);
		break;
	case 5:
		kill_store(scene);
		break;
	case 6:
		set_back(scene);
		break;
	case 7:
		relabel(scene);
		break;
	case 8:
		usleep((useconds_t)under(200000));
		break;
	default:
		step(scene);
	}
}

static void
whatever_happens_the_store_is_as_the_ledger(void **state)
{
	unsigned seed = seed_take(1);
	(void)state;

	for (unsigned round = 0; round < 10; round++) {
		struct scene scene;
		unsigned short own[3] = {
		    (unsigned short)(seed + round), (unsigned short)round, 7};
		memcpy(dice, own, sizeof(dice));
		dice[2] = 9;
		scene_open(&scene, under(10), round % 2 == 0 ? 0 : SETTLE_S);
		scene.settings->reading_period_s = 10;
		scene.settings->batch_lines = 100 + under(400);
		scene.settings->timeout_s = 2;
		scene.store.arg = own;
		scene.store.script = now_and_then_trouble;
		for (int i = 0; i < 150; i++)
			do_something(&scene);
		while (step(&scene) != DELIVERY_DONE)
			;
		scene.store.script = NULL;
		settle_all(&scene);
		if (round % 2 != 0)
			kill_store(&scene);
		assert_all_there(&scene, true);
		assert_int_equal(delivery_counts(scene.delivery)->refused, 0);
		scene_close(&scene);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_cursor_trails_and_status_can_tell),
	    cmocka_unit_test(a_store_killed_after_an_acknowledgement_has_everything),
	    cmocka_unit_test(a_store_killed_while_nothing_is_sent_is_noticed),
	    cmocka_unit_test(a_restart_sends_only_what_had_not_settled),
	    cmocka_unit_test(a_store_that_closes_each_connection_is_told_of),
	    cmocka_unit_test(a_cursor_set_back_while_it_runs_is_followed),
	    cmocka_unit_test(readings_go_out_between_shots_and_behind_them),
	    cmocka_unit_test(readings_that_the_ring_dropped_are_counted),
	    cmocka_unit_test(a_store_that_wants_no_readings_gets_none),
	    cmocka_unit_test(readings_that_cannot_be_read_are_passed_and_counted),
	    cmocka_unit_test(what_is_stuck_is_found_and_told),
	    cmocka_unit_test(whatever_happens_the_store_is_as_the_ledger),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
