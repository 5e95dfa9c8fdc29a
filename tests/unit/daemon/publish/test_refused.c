/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a store refuses: lines, readings, everything; and what the ledger cannot read. */
#include "tests/unit/daemon/publish/delivery_scene.h"

#include <sqlite3.h>

#include "daemon/publish/delivery_inside.h"

static int64_t
aside(struct scene *scene)
{
	struct ledger_read *read = ledger_read_open(scene->filled.path, NULL);
	int64_t waiting = -1, refused = -1;

	assert_int_equal(
	    ledger_read_backlog(read, "plant", &waiting, &refused, NULL), 0);
	ledger_read_close(read);
	return refused;
}

static const struct delivery_counts *
counts(const struct scene *scene)
{
	return delivery_counts(scene->delivery);
}

/* --- the store's state ------------------------------------------------------------------ */

static struct reply
no_new_series(void *arg, int request, const char *lines)
{
	(void)request;
	if (strstr(lines, "shot,") != NULL)
		return (struct reply){MANNER_ANSWER_ONLY, 400, 0, arg};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static void
a_store_at_a_limit_of_its_series_holds_and_nothing_is_set_aside(void **state)
{
	static const char *const words[] = {
	    "{\"error\":\"partial write: max-series-per-database limit exceeded: "
	    "(1000) "
	    "dropped=3\"}",
	    "{\"error\":\"partial write: max-values-per-tag limit exceeded (10/10): "
	    "measurement=\\\"shot\\\" tag=\\\"tool\\\" value=\\\"T\\\" dropped=1\"}",
	};
	(void)state;

	for (size_t i = 0; i < 2; i++) {
		struct scene scene;
		scene_open(&scene, 5, 0);
		scene.store.script = no_new_series;
		scene.store.arg = (void *)(uintptr_t)words[i];
		for (int steps = 0; steps < 3; steps++)
			assert_int_equal(step(&scene), DELIVERY_CLOSED);
		assert_int_equal(counts(&scene)->trouble, TROUBLE_FULL);
		assert_int_equal(aside(&scene), 0);
		scene.store.script = NULL;
		send_all(&scene);
		assert_int_equal(aside(&scene), 0);
		assert_all_there(&scene, false);
		scene_close(&scene);
	}
}

/* Line after line with the same words beside the point's own, though it takes others. */
static struct reply
refuse_shots(void *arg, int request, const char *lines)
{
	static char body[400];
	(void)arg;

	if (strncmp(lines, "probe,", 6) == 0)
		return (struct reply){MANNER_ANSWER, 204, 0, NULL};
	snprintf(body, sizeof(body),
	    "{\"error\":\"unable to parse '%.40s': not today, attempt %d\"}", lines,
	    request);
	return (struct reply){MANNER_ANSWER_ONLY, 400, 0, body};
}

static void
a_store_that_refuses_line_after_line_is_held_at_fifty(void **state)
{
	struct scene scene;
	int held = 0;
	(void)state;

	scene_open(&scene, 20, 0);
	scene.store.script = refuse_shots;
	for (int steps = 0; steps < 400 && held < 3; steps++)
		held += step(&scene) == DELIVERY_CLOSED;
	assert_int_equal(held, 3);
	assert_int_equal(counts(&scene)->trouble, TROUBLE_REFUSES);
	assert_non_null(strstr(scene.error.text, "not today"));
	scene.store.script = NULL;
	send_all(&scene);
	assert_int_equal(aside(&scene), 50);
	assert_int_equal(counts(&scene)->refused, 50);
	scene_close(&scene);
}

static struct reply
too_old(void *arg, int request, const char *lines)
{
	(void)arg;
	(void)request;
	if (strncmp(lines, "probe,", 6) == 0)
		return (struct reply){MANNER_ANSWER, 204, 0, NULL};
	return (struct reply){MANNER_ANSWER_ONLY, 400, 0,
	    "{\"error\":\"partial write: points beyond retention policy dropped=1\"}"};
}

/* What comes after them is not: a store with a short memory gets the shots of today. */
static void
what_is_too_old_for_a_store_holds_up_nothing(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 2, 0);
	scene.store.script = too_old;
	send_all(&scene);
	assert_true(aside(&scene) > 100);
	scene_close(&scene);
}

/* --- refused lines in the ledger ------------------------------------------------------------ */

static struct reply
cut_after_two(void *arg, int request, const char *lines)
{
	(void)lines;
	if (request >= *(int *)arg)
		return (struct reply){MANNER_ANSWER_ONLY, 503, 0, NULL};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

/* Not one by one: when the batch is through, and before the cursor passes it. */
static void
what_is_set_aside_is_filed_with_its_batch(void **state)
{
	struct scene scene;
	int good = 100;
	(void)state;

	scene_open(&scene, 10, 0);
	scene.store.bad = "channel=ovens.zone_top_3,";
	scene.store.script = cut_after_two;
	scene.store.arg = &good;
	while (step(&scene) == DELIVERY_MOVING)
		;
	assert_true(scene.delivery->aside.count > 1);
	assert_int_equal(aside(&scene), 0);
	assert_int_equal(cursor(&scene, "shot"), 0);
	good = 100000;
	send_all(&scene);
	assert_int_equal(aside(&scene), 10);
	assert_int_equal(counts(&scene)->refused, 10);
	scene_close(&scene);
}

/* --- readings ---------------------------------------------------------------------------- */

static void
add_readings(struct scene *scene, int count)
{
	scene->settings->reading_period_s = 10;
	for (int i = 0; i < count; i++)
		add_reading(scene, (struct wall){0});
}

static void
refused_readings_are_lost_after_a_few_posts_and_never_set_aside(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 2, 0);
	send_all(&scene);
	add_readings(&scene, 400);
	scene.store.bad = "reading,";
	int requests = scene.store.requests;
	send_all(&scene);
	assert_in_range(scene.store.requests - requests, 2, 32);
	assert_int_equal(counts(&scene)->lost_readings, 400);
	assert_int_equal(cursor(&scene, "reading"), 400);
	assert_int_equal(aside(&scene), 0);
	scene_close(&scene);
}

/* A set that is lost in part is lost once. */
static void
of_readings_only_the_refused_part_is_lost(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene, 1, 0);
	add_readings(&scene, 100);
	scene.store.bad = ",mean=57,";
	send_all(&scene);
	assert_int_equal(counts(&scene)->lost_readings, 1);
	assert_non_null(strstr(scene.store.kept.bytes, ",mean=100,"));
	assert_int_equal(aside(&scene), 0);
	scene_close(&scene);
}

static struct reply
no_readings(void *arg, int request, const char *lines)
{
	(void)request;
	if (strstr(lines, "reading,") != NULL)
		return (struct reply){MANNER_ANSWER_ONLY, *(int *)arg, 0, NULL};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static void
shots_go_before_readings_that_do_not_get_through(void **state)
{
	static int statuses[] = {503, 400};
	(void)state;

	for (size_t i = 0; i < 2; i++) {
		struct scene scene;
		scene_open(&scene, 1, 0);
		send_all(&scene);
		add_readings(&scene, 400);
		scene.store.script = no_readings;
		scene.store.arg = &statuses[i];
		step(&scene);
		step(&scene);
		assert_int_equal(cursor(&scene, "reading"), 0);
		filled_add_shots(&scene.filled, 1);
		filled_add_event(&scene.filled, "note", "between");
		for (int steps = 0; steps < 4; steps++)
			step(&scene);
		assert_non_null(strstr(scene.store.kept.bytes, " shot_no=2i,"));
		assert_non_null(strstr(scene.store.kept.bytes, "\"between\""));
		if (statuses[i] == 503)
			assert_int_equal(cursor(&scene, "reading"), 0);
		scene.store.script = NULL;
		send_all(&scene);
		assert_int_equal(cursor(&scene, "reading"), 400);
		if (statuses[i] == 503)
			assert_all_there(&scene, false);
		scene_close(&scene);
	}
}

/* --- batches that are too large --------------------------------------------------------------- */

static struct reply
too_large_for_now(void *arg, int request, const char *lines)
{
	(void)lines;
	if (request < *(int *)arg)
		return (struct reply){MANNER_ANSWER_ONLY, 413, 0, NULL};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static void
a_batch_that_was_halved_grows_again(void **state)
{
	struct scene scene;
	int refused = 5;
	(void)state;

	scene_open(&scene, 300, 0);
	scene.store.script = too_large_for_now;
	scene.store.arg = &refused;
	while (scene.store.requests < refused)
		step(&scene);
	size_t smallest = scene.delivery->loader.batch_bytes;
	assert_int_equal(smallest, LOADER_BATCH_BYTES >> 5);
	send_all(&scene);
	assert_true(scene.delivery->loader.batch_bytes > 2 * smallest);
	assert_true(scene.delivery->loader.batch_bytes <= LOADER_BATCH_BYTES);
	scene_close(&scene);
}

/* --- what cannot be read, or changes while it is ----------------------------------------------- */

static void
run_sql(struct scene *scene, const char *sql)
{
	sqlite3 *db;

	assert_int_equal(sqlite3_open(scene->filled.path, &db), SQLITE_OK);
	assert_int_equal(sqlite3_exec(db, sql, NULL, NULL, NULL), SQLITE_OK);
	sqlite3_close(db);
}

static void
what_cannot_be_read_keeps_its_own_stream_back(void **state)
{
	struct scene scene;
	char sql[200];
	(void)state;

	scene_open(&scene, 5, 0);
	filled_add_event(&scene.filled, "note", "all the same");
	add_readings(&scene, 3);
	step(&scene);
	restart(&scene);
	text_clear(&scene.store.kept);
	run_sql(&scene, "UPDATE delivery SET change = 0, turn = turn + 1");
	/* Its line is gone, say, with the page that it was on. */
	run_sql(&scene, "PRAGMA foreign_keys = OFF; UPDATE shot SET line = 99 WHERE "
			"shot_no = 3");
	for (int steps = 0; steps < 12; steps++)
		step(&scene);
	assert_int_equal(step(&scene), DELIVERY_TROUBLE);
	assert_int_equal(counts(&scene)->trouble, TROUBLE_LEDGER);
	snprintf(sql, sizeof(sql), "shots after change %lld cannot be read",
	    (long long)cursor(&scene, "shot"));
	if (strstr(scene.error.text, sql) == NULL)
		fail_msg("%s: %s", sql, scene.error.text);
	assert_true(cursor(&scene, "shot") > 0);
	assert_non_null(strstr(scene.store.kept.bytes, " shot_no=2i,"));
	assert_null(strstr(scene.store.kept.bytes, " shot_no=4i,"));
	assert_non_null(strstr(scene.store.kept.bytes, "\"all the same\""));
	assert_int_equal(cursor(&scene, "reading"), 3);
	/* Also in a step that goes on it is told. */
	filled_add_event(&scene.filled, "note", "once more");
	assert_int_equal(step(&scene), DELIVERY_MOVING);
	assert_int_equal(counts(&scene)->trouble, TROUBLE_LEDGER);
	assert_non_null(strstr(counts(&scene)->standing, sql));
	run_sql(&scene, "UPDATE shot SET line = (SELECT id FROM line WHERE name = "
			"'line-3') WHERE line = 99");
	send_all(&scene);
	assert_int_equal(counts(&scene)->trouble, TROUBLE_NONE);
	assert_non_null(strstr(scene.store.kept.bytes, " shot_no=5i,"));
	scene_close(&scene);
}

/* Somebody who labels all shots anew just as the channels of one are read. */
static struct scene *labelled;

static int
label_now(unsigned kind, void *arg, void *statement, void *sql)
{
	struct scene *scene = labelled;
	int64_t relabelled = 0;
	const struct ledger_entry entry = {"line-3", CONTEXT_TOOL, "T-117",
	    (struct wall){1}, (struct wall){FILLED_START_NS}};
	(void)kind, (void)arg, (void)statement;

	if (scene == NULL || strstr(sql, "FROM shot_channel") == NULL)
		return 0;
	labelled = NULL;
	assert_int_equal(
	    ledger_put_context(scene->filled.ledger, &entry, &relabelled, NULL), 0);
	assert_int_equal(relabelled, 3);
	return 0;
}

static int
watch(sqlite3 *db, char **error, const struct sqlite3_api_routines *routines)
{
	(void)error, (void)routines;
	return sqlite3_trace_v2(db, SQLITE_TRACE_STMT, label_now, NULL);
}

static void
a_shot_made_anew_while_it_is_read_goes_out_as_it_is_then(void **state)
{
	struct scene scene;
	(void)state;

	sqlite3_auto_extension((void (*)(void))watch);
	scene_open(&scene, 3, 0);
	labelled = &scene;
	send_all(&scene);
	assert_null(labelled);
	assert_all_there(&scene, false);
	assert_null(strstr(scene.store.kept.bytes, "revision=0 shot_no=1i,filed_us"));
	scene_close(&scene);
	sqlite3_cancel_auto_extension((void (*)(void))watch);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(
		a_store_at_a_limit_of_its_series_holds_and_nothing_is_set_aside),
	    cmocka_unit_test(a_store_that_refuses_line_after_line_is_held_at_fifty),
	    cmocka_unit_test(what_is_too_old_for_a_store_holds_up_nothing),
	    cmocka_unit_test(what_is_set_aside_is_filed_with_its_batch),
	    cmocka_unit_test(
		refused_readings_are_lost_after_a_few_posts_and_never_set_aside),
	    cmocka_unit_test(of_readings_only_the_refused_part_is_lost),
	    cmocka_unit_test(shots_go_before_readings_that_do_not_get_through),
	    cmocka_unit_test(a_batch_that_was_halved_grows_again),
	    cmocka_unit_test(what_cannot_be_read_keeps_its_own_stream_back),
	    cmocka_unit_test(a_shot_made_anew_while_it_is_read_goes_out_as_it_is_then),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
