/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A store is asked whether it has what it took, before a cursor moves past it. */
#include "tests/unit/daemon/publish/delivery_scene.h"

#include "daemon/publish/delivery_inside.h"

/* A VictoriaMetrics behind a proxy that keeps its connections; not as slow as a real one. */
static void
scene_behind_proxy(struct scene *scene, int shots)
{
	scene_open(scene, shots, SETTLE_S);
	scene->settings->kind = STORE_VICTORIAMETRICS;
	scene->settings->batch_lines = 400;
	scene->store.hides = true;
	scene->delivery = delivery_open(
	    scene->filled.settings, 0, scene->filled.path, NULL, NULL, &scene->error);
	assert_non_null(scene->delivery);
	/* Its points are seen after ten seconds, and it is left alone between. */
	assert_int_equal(scene->delivery->streams[STREAM_SHOT].settling.settle_ns,
	    15 * INT64_C(1000000000));
	assert_true(scene->delivery->asking.every_ns >= 500000000);
	scene->delivery->asking.every_ns = 1000000;
	for (int i = 0; i < STREAM_COUNT; i++)
		scene->delivery->streams[i].settling.settle_ns =
		    (int64_t)(SETTLE_S * 1e9);
}

static const struct delivery_counts *
counts(const struct scene *scene)
{
	return delivery_counts(scene->delivery);
}

static void
what_a_hidden_restart_took_comes_again(void **state)
{
	struct scene scene;
	(void)state;

	for (int moment = 0; moment < 6; moment++) {
		scene_behind_proxy(&scene, 30);
		filled_add_event(&scene.filled, "note", "too");
		for (int i = 0; i < 2 + 2 * moment; i++)
			step(&scene);
		kill_store(&scene); /* what follows is kept, and hides it */
		settle_all(&scene);
		kill_store(&scene);
		assert_all_there(&scene, false);
		assert_in_range(counts(&scene)->missed, 1, 3);
		assert_int_equal(counts(&scene)->unkept, 0);
		assert_int_equal(counts(&scene)->trouble, TROUBLE_NONE);
		scene_close(&scene);
	}
}

static void
a_restart_when_all_is_sent_is_found_out_too(void **state)
{
	struct scene scene;
	(void)state;

	scene_behind_proxy(&scene, 1);
	settle_all(&scene);
	assert_int_equal(counts(&scene)->missed, 0);
	filled_add_event(&scene.filled, "note", "alone");
	send_all(&scene);
	kill_store(&scene);
	settle_all(&scene);
	assert_all_there(&scene, false);
	assert_int_equal(counts(&scene)->missed, 1);
	scene_close(&scene);
}

static void
a_shift_is_asked_for_too(void **state)
{
	struct scene scene;
	(void)state;

	scene_behind_proxy(&scene, 1);
	settle_all(&scene);
	filled_close_shift(&scene.filled, 7);
	send_all(&scene);
	kill_store(&scene);
	settle_all(&scene);
	assert_all_there(&scene, false);
	assert_int_equal(counts(&scene)->missed, 1);
	assert_non_null(strstr(scene.store.question, "shift_total_shots"));
	filled_close_shift(&scene.filled, 8);
	settle_all(&scene);
	assert_int_equal(counts(&scene)->missed, 1);
	assert_non_null(strstr(scene.store.question, "revision%3D%221%22"));
	scene_close(&scene);
}

static void
the_question_is_of_the_last_shot_and_its_second(void **state)
{
	struct scene scene;
	(void)state;

	scene_behind_proxy(&scene, 1);
	snprintf(scene.filled.settings->site, sizeof(scene.filled.settings->site),
	    "north \"1\"\\a");
	settle_all(&scene);
	/* The shot is filed within the second of FILLED_START_NS. */
	const char *wanted =
	    "GET /api/v1/export?match%5B%5D=shot_shot_no%7Bsite%3D%22north%20%5C%221%5C"
	    "%22%2Fa%22%2Cline%3D%22line-3%22%2Crevision%3D%220%22%2Cdb%3D%22plant%22%"
	    "7D"
	    "&start=1772427600&end=1772427600.999 HTTP/1.1";
	if (strstr(scene.store.question, wanted) == NULL)
		fail_msg("asked: %.400s", scene.store.question);
	scene_close(&scene);
}

static struct reply
keep_nothing(void *arg, int request, const char *lines)
{
	(void)arg, (void)request, (void)lines;
	return (struct reply){MANNER_ANSWER_ONLY, 204, 0, NULL};
}

/* Its retention is shorter than the shots are old, say. */
static void
what_is_never_kept_is_told_and_not_waited_for(void **state)
{
	struct scene scene;
	int64_t shots = 0, events = 0;
	(void)state;

	scene_behind_proxy(&scene, 20);
	scene.store.script = keep_nothing;
	settle_all(&scene);
	assert_int_equal(counts(&scene)->missed, 3);
	assert_int_equal(counts(&scene)->unkept, 20);
	assert_int_equal(counts(&scene)->trouble, TROUBLE_UNKEPT);
	assert_string_equal(counts(&scene)->standing,
	    "took 20 shots and has not kept them: look at its retention");
	assert_true(cursor(&scene, "shot") >= 20);

	/* What it keeps is no matter of these; that is told until they are sent again. */
	scene.store.script = NULL;
	filled_add_shots(&scene.filled, 1);
	settle_all(&scene);
	assert_int_equal(counts(&scene)->unkept, 20);
	assert_int_equal(counts(&scene)->trouble, TROUBLE_UNKEPT);
	assert_int_equal(ledger_set_back(scene.filled.ledger, "plant", (struct wall){1},
			     &shots, &events, NULL),
	    0);
	settle_all(&scene);
	assert_int_equal(counts(&scene)->trouble, TROUBLE_NONE);
	assert_all_there(&scene, false);
	scene_close(&scene);
}

/* A token that may write only: as good as the connection is. */
static void
a_store_that_cannot_be_asked_is_trusted_and_that_is_told(void **state)
{
	struct scene scene;
	(void)state;

	scene_behind_proxy(&scene, 5);
	scene.store.ask_status = 403;
	settle_all(&scene);
	assert_int_equal(scene.store.asks, 1); /* not again and again */
	assert_non_null(strstr(counts(&scene)->unasked, "/api/v1/export' answers 403"));
	assert_int_equal(counts(&scene)->trouble, TROUBLE_NONE);
	assert_int_equal(counts(&scene)->missed, 0);
	assert_true(cursor(&scene, "shot") >= 5);
	assert_all_there(&scene, false);
	scene_close(&scene);
}

/* It may be starting again just now. */
static void
a_store_that_will_answer_later_is_waited_for(void **state)
{
	struct scene scene;
	(void)state;

	scene_behind_proxy(&scene, 5);
	scene.store.ask_status = 503;
	send_all(&scene);
	for (int i = 0; i < 400; i++) {
		assert_int_equal(step(&scene), DELIVERY_DONE);
		usleep(1000);
	}
	assert_true(scene.store.asks > 1);
	assert_int_equal(cursor(&scene, "shot"), 0);
	assert_string_equal(counts(&scene)->unasked, "");
	scene.store.ask_status = 0;
	settle_all(&scene);
	assert_true(cursor(&scene, "shot") >= 5);
	scene_close(&scene);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_a_hidden_restart_took_comes_again),
	    cmocka_unit_test(a_restart_when_all_is_sent_is_found_out_too),
	    cmocka_unit_test(a_shift_is_asked_for_too),
	    cmocka_unit_test(the_question_is_of_the_last_shot_and_its_second),
	    cmocka_unit_test(what_is_never_kept_is_told_and_not_waited_for),
	    cmocka_unit_test(a_store_that_cannot_be_asked_is_trusted_and_that_is_told),
	    cmocka_unit_test(a_store_that_will_answer_later_is_waited_for),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
