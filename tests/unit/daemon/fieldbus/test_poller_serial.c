/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A device on a serial line, whom it would be unsafe to ask for a while. */
#include "daemon/fieldbus/poller.h"

#include "tests/unit/daemon/fieldbus/polling.h"
#include "tests/unit/daemon/fieldbus/slaves.h"

static struct slaves slaves;
static struct bench bench;

static struct device_status
status_of(void)
{
	struct device_status status;

	assert_int_equal(poller_status(bench.poller, &status, 1), 1);
	return status;
}

/* Of one register a late answer cannot be told: it is left alone for four time-outs.
 * Nothing is asked then, so nothing is counted as asked; but its channels have no value. */
static void
who_is_not_asked_has_not_failed_to_answer(void **state)
{
	struct tally *tally = &bench.witness.tallies[0];
	struct device_status status;
	int64_t answers = 0;

	(void)state;
	slaves_start(&slaves);
	plant_init(&bench.plant, 0, 1);
	bench.plant.bus = (struct bus_settings){
	    .kind = BUS_SERIAL, .name = "line", .baud = 115200, .stop_bits = 1};
	snprintf(bench.plant.bus.path, sizeof bench.plant.bus.path, "%s", slaves.path);
	bench.plant.devices[0].channel_count = 1;
	bench.plant.settings.channel_count = 1;
	groups_make(&bench.plant.devices[0], bench.plant.channels);
	bench_start(&bench);
	assert_true(wait_for_good(tally, 5));
	slaves_misbehave(&slaves, HABIT_SILENT, 1);
	while (status_of().answers[ANSWER_NONE] == 0)
		sleep_ms(1);
	assert_true(wait_for_good(tally, 5));
	status = status_of();
	poller_stop(bench.poller);
	for (int i = 0; i < ANSWER_COUNT; i++)
		answers += status.answers[i];
	assert_true(answers <= slaves.requests && answers + 20 >= slaves.requests);
	assert_int_equal(status.answers[ANSWER_NONE], 1);
	assert_in_range(status.failures, 5, 1000); /* scans, though */
	assert_int_equal(answers - status.answers[ANSWER_GOOD], 1);
	assert_int_equal(bench.witness.wrong, 0);
	slaves_stop(&slaves);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(who_is_not_asked_has_not_failed_to_answer),
	};

	return cmocka_run_group_tests(tests, polling_set_up, NULL);
}
