/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Cursors that trail, and that somebody sets back. */
#include "tests/unit/daemon/publish/delivery_scene.h"

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
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
