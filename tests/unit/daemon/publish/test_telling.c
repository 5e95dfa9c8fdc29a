/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the buses count, told to a store beside the shots, and never in their way. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <string.h>
#include <time.h>
#include <unistd.h>

#include "daemon/base/log.h"
#include "daemon/publish/delivery.h"
#include "daemon/publish/publisher.h"
#include "daemon/publish/telling.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/real_influx.h"
#include "tests/unit/daemon/publish/scripted_store.h"

struct scene {
	struct scripted_store store;
	struct filled_ledger filled;
	struct delivery *delivery; /* for its connection alone */
	struct telling *telling;
	struct error error;
};

/* What is filed of each device next: since a start of the daemon. */
static struct {
	int64_t start_ns, scans, failures;
} past;

static void
open_telling(struct scene *scene)
{
	const struct settings *settings = scene->filled.settings;
	const char *ledger = scene->filled.path;

	scene->delivery = delivery_open(settings, 0, ledger, NULL, NULL, &scene->error);
	assert_non_null(scene->delivery);
	scene->telling = telling_open(
	    settings, 0, ledger, delivery_http(scene->delivery), &scene->error);
	assert_non_null(scene->telling);
}

static void
scene_open(struct scene *scene)
{
	memset(scene, 0, sizeof(*scene));
	memset(&past, 0, sizeof(past));
	scripted_start(&scene->store);
	filled_open(&scene->filled, scene->store.port);
	open_telling(scene);
}

static void
scene_close(struct scene *scene)
{
	telling_close(scene->telling);
	delivery_close(scene->delivery);
	scripted_stop(&scene->store);
	filled_close(&scene->filled);
}

/* As the daemon files them, `turn` by turn. */
static void
file_devices(struct filled_ledger *filled, int count, int turn)
{
	static char names[SETTINGS_DEVICES][32];
	static struct ledger_device devices[SETTINGS_DEVICES];

	for (int i = 0; i < count; i++) {
		snprintf(names[i], sizeof(names[i]), "ovens-%d", i);
		devices[i] = (struct ledger_device){.device = names[i],
		    .line = "line-3",
		    .bus = "10.0.0.5:502",
		    .state = "ok",
		    .at = {FILLED_START_NS + turn * CLOCK_SECOND_NS},
		    .since = {past.start_ns},
		    .counts = {[LEDGER_COUNT_GOOD] = 100 * turn + i,
			[LEDGER_COUNT_SCANS] = past.scans,
			[LEDGER_COUNT_FAILURES] = past.failures},
		    .late_p99_s = 0.001,
		    .late_worst_s = NAN};
	}
	filled_need(filled,
	    ledger_put_health(
		filled->ledger, NULL, 0, devices, (size_t)count, &filled->error) == 0,
	    "file the devices");
}

/* How often `word` stands in what the store has kept. */
static int
kept(const struct scripted_store *store, const char *word)
{
	int count = 0;

	for (const char *at = store->kept.bytes; at != NULL; count += at != NULL)
		if ((at = strstr(at, word)) != NULL)
			at += strlen(word);
	return count;
}

static void
each_device_goes_out_once_a_filing(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene);
	assert_int_equal(telling_post(scene.telling, true, 0, &scene.error), 0);
	assert_int_equal(scene.store.requests, 0);
	file_devices(&scene.filled, 3, 1);
	assert_int_equal(telling_post(scene.telling, true, 0, &scene.error), 1);
	assert_int_equal(kept(&scene.store, "device,"), 3);
	assert_int_equal(telling_post(scene.telling, true, 0, &scene.error), 0);
	assert_int_equal(scene.store.requests, 1);
	file_devices(&scene.filled, 3, 2);
	assert_int_equal(telling_post(scene.telling, true, 0, &scene.error), 1);
	assert_int_equal(kept(&scene.store, "device,"), 6);
	assert_int_equal(kept(&scene.store, ",good=202i,"), 1);
	scene_close(&scene);
}

static void
many_devices_keep_to_the_lines_of_a_post(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene);
	scene.filled.settings->stores[0].batch_lines = 25;
	file_devices(&scene.filled, 60, 1);
	assert_int_equal(telling_post(scene.telling, true, 0, &scene.error), 1);
	assert_int_equal(kept(&scene.store, "device,"), 60);
	assert_int_equal(scene.store.requests, 3);
	assert_int_equal(scene.store.longest, 25);
	scene_close(&scene);
}

/* The first post for good, the next for a while; then it takes what comes. */
static struct reply
refuse_twice(void *arg, int request, const char *lines)
{
	(void)arg, (void)lines;
	if (request == 0)
		return (struct reply){
		    MANNER_ANSWER_ONLY, 400, 0, "{\"error\":\"field type conflict\"}"};
	if (request == 1)
		return (struct reply){MANNER_ANSWER_ONLY, 503, 60, "later"};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static void
what_a_store_does_not_take_is_tried_once_and_set_aside_nowhere(void **state)
{
	struct scene scene;
	int64_t shots, refused;
	(void)state;

	scene_open(&scene);
	scene.store.script = refuse_twice;
	file_devices(&scene.filled, 2, 1);
	assert_int_equal(
	    telling_post(scene.telling, true, 0, &scene.error), ERROR_REFUSED);
	assert_non_null(strstr(scene.error.text, "400"));
	assert_non_null(strstr(scene.error.text, "field type conflict"));
	assert_int_equal(telling_post(scene.telling, true, 0, &scene.error), 0);
	assert_int_equal(scene.store.requests, 1);

	file_devices(&scene.filled, 2, 2);
	assert_int_equal(
	    telling_post(scene.telling, true, 0, &scene.error), ERROR_REFUSED);
	file_devices(&scene.filled, 2, 3);
	assert_int_equal(telling_post(scene.telling, true, 0, &scene.error), 1);
	assert_int_equal(kept(&scene.store, "device,"), 2);

	struct ledger_read *read = ledger_read_open(scene.filled.path, NULL);
	assert_non_null(read);
	assert_int_equal(ledger_read_backlog(read, "plant", &shots, &refused, NULL), 0);
	assert_int_equal(refused, 0);
	ledger_read_close(read);
	scene_close(&scene);
}

/* Files one device after so many scans more, some of them failed, and posts it. */
static int
live_and_post(struct scene *scene, int turn, int64_t scans, int64_t failures)
{
	past.scans += scans;
	past.failures += failures;
	file_devices(&scene->filled, 1, turn);
	return telling_post(scene->telling, true, 0, &scene->error);
}

static void
what_a_device_missed_between_two_points_is_in_the_second(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene);
	assert_int_equal(live_and_post(&scene, 1, 80, 20), 1);
	assert_int_equal(kept(&scene.store, ",answering=0.75,"), 1);
	/* silent for 56 s of a minute, and back again */
	assert_int_equal(live_and_post(&scene, 2, 60, 57), 1);
	assert_int_equal(kept(&scene.store, ",answering=0.05"), 1);
	assert_int_equal(live_and_post(&scene, 3, 60, 0), 1);
	assert_int_equal(kept(&scene.store, ",answering=1,"), 1);
	/* no scan was due */
	assert_int_equal(live_and_post(&scene, 4, 0, 0), 1);
	assert_int_equal(kept(&scene.store, "answering"), 3);
	scene_close(&scene);
}

static void
a_restart_takes_nothing_from_what_is_answered(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene);
	assert_int_equal(live_and_post(&scene, 1, 1000, 1000), 1);
	assert_int_equal(kept(&scene.store, ",answering=0,"), 1);
	/* the daemon's, twice */
	for (int turn = 2; turn < 4; turn++) {
		past.start_ns += CLOCK_SECOND_NS;
		past.scans = past.failures = 0;
		assert_int_equal(live_and_post(&scene, turn, 4, 2), 1);
	}
	assert_int_equal(kept(&scene.store, ",answering=0.5,"), 2);
	/* the delivery's alone, as after a reload: what was told is not told again */
	telling_close(scene.telling);
	delivery_close(scene.delivery);
	open_telling(&scene);
	assert_int_equal(live_and_post(&scene, 4, 8, 2), 1);
	assert_int_equal(kept(&scene.store, ",answering=0.75,"), 1);
	scene_close(&scene);
}

/* Until the store is there again. */
static void
a_point_that_is_lost_is_made_up_for_by_the_next(void **state)
{
	struct scene scene;
	(void)state;

	scene_open(&scene);
	scene.store.script = refuse_twice;
	assert_int_equal(live_and_post(&scene, 1, 50, 50), ERROR_REFUSED);
	assert_int_equal(live_and_post(&scene, 2, 50, 25), ERROR_REFUSED);
	assert_int_equal(live_and_post(&scene, 3, 100, 0), 1);
	assert_int_equal(kept(&scene.store, ",answering=0.625,"), 1);
	scene_close(&scene);
}

/* --- beside the shots ------------------------------------------------------------- */

static double
now_s(void)
{
	struct timespec now;
	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + (double)now.tv_nsec * 1e-9;
}

static void
wait_until(bool (*done)(void *arg), void *arg)
{
	double until_s = now_s() + 10;

	while (!done(arg)) {
		assert_true(now_s() < until_s);
		usleep(2000);
	}
}

struct beside {
	struct publisher *publisher;
	int64_t batches;                  /* waited for */
	_Atomic int devices_at, shots_at; /* number of the first request with each */
	_Atomic int tellings;             /* requests with devices */
};

/* Takes the shots and refuses the devices. */
static struct reply
refuse_devices(void *arg, int request, const char *lines)
{
	struct beside *beside = arg;
	bool devices = strncmp(lines, "device,", 7) == 0;
	_Atomic int *first = devices ? &beside->devices_at : &beside->shots_at;

	if (*first < 0)
		*first = request;
	beside->tellings += devices;
	if (devices)
		return (struct reply){MANNER_ANSWER_ONLY, 400, 0, "no devices here"};
	return (struct reply){MANNER_ANSWER, 204, 0, NULL};
}

static bool
has_untold(void *arg)
{
	struct beside *beside = arg;
	struct publisher_status status;

	publisher_status(beside->publisher, &status);
	return status.untold[0] != '\0';
}

static bool
has_batches(void *arg)
{
	struct beside *beside = arg;
	struct publisher_status status;

	publisher_status(beside->publisher, &status);
	return status.batches >= beside->batches;
}

static void
shots_go_first_and_go_on_where_devices_are_refused(void **state)
{
	struct scene scene;
	struct beside beside = {.devices_at = -1, .shots_at = -1};
	struct publisher_status status;
	(void)state;

	scene_open(&scene);
	scene.store.script = refuse_devices;
	scene.store.arg = &beside;
	filled_add_shots(&scene.filled, 5);
	file_devices(&scene.filled, 2, 1);
	beside.publisher =
	    publisher_start(scene.filled.settings, 0, scene.filled.path, &scene.error);
	assert_non_null(beside.publisher);
	wait_until(has_untold, &beside);
	assert_true(beside.shots_at >= 0 && beside.devices_at > beside.shots_at);
	for (int i = 2; i < 5; i++) {
		filled_add_shots(&scene.filled, 1);
		file_devices(&scene.filled, 2, i); /* not yet a minute later */
		publisher_wake(beside.publisher);
		beside.batches = i;
		wait_until(has_batches, &beside);
	}
	publisher_status(beside.publisher, &status);
	assert_int_equal(status.delivering, 1);
	assert_int_equal(status.refused, 0);
	assert_int_equal(status.failures, 0);
	assert_non_null(strstr(status.untold, "no devices here"));
	publisher_stop(beside.publisher, 5);
	assert_int_equal(beside.tellings, 1);
	assert_int_equal(kept(&scene.store, "shot,"), 8);
	assert_int_equal(kept(&scene.store, "device,"), 0);
	scene_close(&scene);
}

/* Once more, with the database that plants have. */
static void
influx_takes_counts_as_integers_and_lateness_as_floats(void **state)
{
	struct real_influx influx;
	struct scene scene = {0};
	(void)state;

	if (!influx_there())
		skip();
	influx_prepare(&influx);
	influx_start(&influx);
	free(influx_query(&influx, "CREATE+DATABASE+plant"));
	filled_open(&scene.filled, influx.port);
	open_telling(&scene);
	for (int turn = 1; turn <= 2; turn++) {
		past.scans += 10;
		file_devices(&scene.filled, 3, turn);
		if (telling_post(scene.telling, true, 0, &scene.error) != 1)
			fail_msg("%s", scene.error.text);
	}
	char *rows = influx_query(&influx,
	    "SELECT+good,late_p99_s,answering+FROM+device+WHERE+device='ovens-1'");
	assert_non_null(strstr(rows, ",101,0.001,1"));
	assert_non_null(strstr(rows, ",201,0.001,1"));
	free(rows);
	rows = influx_query(&influx, "SHOW+FIELD+KEYS+FROM+device");
	assert_non_null(strstr(rows, "requests,integer"));
	assert_non_null(strstr(rows, "lost,integer"));
	assert_non_null(strstr(rows, "answering,float"));
	assert_non_null(strstr(rows, "bad_channels,integer"));
	free(rows);
	telling_close(scene.telling);
	delivery_close(scene.delivery);
	filled_close(&scene.filled);
	influx_close(&influx);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_device_goes_out_once_a_filing),
	    cmocka_unit_test(many_devices_keep_to_the_lines_of_a_post),
	    cmocka_unit_test(
		what_a_store_does_not_take_is_tried_once_and_set_aside_nowhere),
	    cmocka_unit_test(what_a_device_missed_between_two_points_is_in_the_second),
	    cmocka_unit_test(a_restart_takes_nothing_from_what_is_answered),
	    cmocka_unit_test(a_point_that_is_lost_is_made_up_for_by_the_next),
	    cmocka_unit_test(shots_go_first_and_go_on_where_devices_are_refused),
	    cmocka_unit_test(influx_takes_counts_as_integers_and_lateness_as_floats),
	};
	log_set_level(LOG_LEVEL_ERROR);
	return cmocka_run_group_tests_name("telling", tests, NULL, NULL);
}
