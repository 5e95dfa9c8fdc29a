/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Live readings between the shots, and a head that is stuck. */
#include "tests/unit/daemon/publish/delivery_scene.h"

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

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(readings_go_out_between_shots_and_behind_them),
	    cmocka_unit_test(readings_that_the_ring_dropped_are_counted),
	    cmocka_unit_test(a_store_that_wants_no_readings_gets_none),
	    cmocka_unit_test(readings_that_cannot_be_read_are_passed_and_counted),
	    cmocka_unit_test(what_is_stuck_is_found_and_told),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
