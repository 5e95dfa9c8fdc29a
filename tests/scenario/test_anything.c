/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The tracker fed with what no machine would do, for every kind: random bits, silences,
 * counters, clocks and restarts.  It must not crash, nor call a sheet complete that it did
 * not see heated and formed, nor give out parts of a cycle that do not add up to it.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"
#include "tests/scenario/plan.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

enum { RUNS = 8, STEPS = 1500 };

static const char *const kinds[] = {"rotary", "rotary-two-ovens", "rotary-unload",
    "shuttle", "shuttle-two-sides", "single-station"};

struct chaos {
	struct plan plan;
	struct tracker *tracker;
	unsigned seed;
	int64_t now_ms, ahead_ms;
	double values[PLAN_POLLS][PLAN_CHANNELS_MAX];
	bool silent[PLAN_POLLS];
	int64_t shot_no, whole;
	unsigned char saved[TRACKER_SAVED_MAX];
	size_t saved_bytes;
};

static int
draw(struct chaos *chaos, int below)
{
	return rand_r(&chaos->seed) % below;
}

/* --- what must hold of any record ------------------------------------------------------ */

static bool
is_made(enum shot_outcome outcome)
{
	return outcome == SHOT_COMPLETE || outcome == SHOT_STARTUP ||
	       outcome == SHOT_TIMER_RELEASE || outcome == SHOT_REHEATED;
}

static void
take_shot(void *arg, struct shot *shot)
{
	struct chaos *chaos = arg;
	const double *value = shot->value;

	assert_int_equal(shot->shot_no, ++chaos->shot_no);
	if (is_made(shot->outcome)) {
		assert_true(value[FEATURE_HEAT_S] >= 10.0);
		assert_true(shot->heat_start_at.ns != 0 && shot->heat_end_at.ns != 0);
		assert_true(shot->form_start_at.ns != 0 && shot->form_end_at.ns != 0);
		assert_true(value[FEATURE_FORM_S] >= PLAN_FORM_MIN_S);
		assert_true(value[FEATURE_TRANSFER_S] > -1.0);
		assert_true(shot->uncertainty_s <= 5.0);
		chaos->whole++;
	}
	assert_true((shot->reason[0] == '\0') == (shot->outcome == SHOT_COMPLETE));
	if (!isnan(value[FEATURE_CYCLE_S]))
		assert_near(
		    value[FEATURE_CYCLE_FORMING_S] + value[FEATURE_CYCLE_WAIT_SAG_S] +
			value[FEATURE_CYCLE_WAIT_LINE_S] +
			value[FEATURE_CYCLE_INDEX_S] + value[FEATURE_CYCLE_CLOSING_S],
		    value[FEATURE_CYCLE_S], 1e-6);
	for (int f = 0; f < FEATURE_COUNT; f++)
		assert_true(isnan(value[f]) == (shot->absent[f] != ABSENT_NOT));
	shot_free(shot);
}

static void
save(void *arg)
{
	struct chaos *chaos = arg;

	chaos->saved_bytes =
	    tracker_save(chaos->tracker, chaos->saved, sizeof chaos->saved);
	assert_true(chaos->saved_bytes > 0);
}

static void
start(struct chaos *chaos)
{
	struct tracker_sink sink = {.shot = take_shot, .moved = save, .arg = chaos};
	struct tracker_start begin = {.last_shot_no = chaos->shot_no,
	    .saved = chaos->saved_bytes > 0 ? chaos->saved : NULL,
	    .saved_bytes = chaos->saved_bytes};

	chaos->tracker = tracker_new(chaos->plan.settings, 0, begin, sink);
	assert_non_null(chaos->tracker);
}

/* --- chaos ----------------------------------------------------------------------------- */

static void
poll(struct chaos *chaos, int place)
{
	uint32_t count = chaos->plan.count[place];
	struct scan *scan = calloc(1, scan_bytes(count));

	assert_non_null(scan);
	scan->device = chaos->plan.device[place];
	scan->first = chaos->plan.first[place];
	scan->sent.ns = (chaos->now_ms - 20) * 1000000;
	scan->at.ns = chaos->now_ms * 1000000;
	scan->wall.ns = (chaos->now_ms + chaos->ahead_ms) * 1000000;
	scan->count = count;
	for (uint32_t i = 0; i < count; i++)
		scan->readings[i] =
		    chaos->silent[place]
			? (struct reading){NAN, QUALITY_COMM_FAULT, 0}
			: (struct reading){chaos->values[place][i], QUALITY_GOOD, 0};
	tracker_scan(chaos->tracker, scan);
	free(scan);
}

static void
wait(struct chaos *chaos, int for_ms)
{
	for (int64_t end_ms = chaos->now_ms + for_ms; chaos->now_ms < end_ms;) {
		chaos->now_ms += 100;
		if (chaos->now_ms % 500 == 0)
			poll(chaos, PLAN_CONTROLLER);
		if (chaos->now_ms % 1000 == 300)
			poll(chaos, PLAN_MEASURES);
		if (chaos->now_ms % 2200 == 700 && chaos->plan.count[PLAN_TOOLS] > 0)
			poll(chaos, PLAN_TOOLS);
	}
}

/* The channel that reads the counter; mostly it counts as it should. */
static double *
counter_of(struct chaos *chaos)
{
	return &chaos->values[PLAN_CONTROLLER][chaos->plan.count[PLAN_CONTROLLER] - 1];
}

/* One channel of the controller changes. */
static void
change(struct chaos *chaos)
{
	uint32_t i = (uint32_t)draw(chaos, (int)chaos->plan.count[PLAN_CONTROLLER]);
	const struct plan_channel *channel = &chaos->plan.channels[PLAN_CONTROLLER][i];
	double *value = &chaos->values[PLAN_CONTROLLER][i];
	bool rare =
	    (channel->source == PLAN_BIT &&
		(channel->which == LINE_AUTOMATIC || channel->which == LINE_FAULT)) ||
	    channel->source == PLAN_COUNT;

	if (channel->source == PLAN_RECIPE || (rare && draw(chaos, 20) > 0))
		return;
	if (channel->source == PLAN_COUNT) {
		*value = draw(chaos, 4) == 0 ? draw(chaos, 65536) : *value + 1;
		return;
	}
	if (channel->which == LINE_ROTATING && *value > 0 && draw(chaos, 20) > 0)
		*counter_of(chaos) += 1;
	*value = 1 - *value;
}

static void
stir(struct chaos *chaos, bool calm)
{
	change(chaos);
	for (int place = 0; place < PLAN_POLLS; place++)
		chaos->silent[place] = draw(chaos, 50) == 0;
	for (int place = PLAN_MEASURES; place < PLAN_POLLS; place++)
		for (uint32_t i = 0; i < chaos->plan.count[place]; i++)
			chaos->values[place][i] = draw(chaos, 2000) / 10.0;
	if (draw(chaos, 500) == 0)
		chaos->ahead_ms += draw(chaos, 7200000) - 3600000;
	if (draw(chaos, 300) == 0) {
		tracker_free(chaos->tracker);
		chaos->now_ms += 100 * draw(chaos, 600);
		start(chaos);
	}
	/* Some runs are calm enough for a sheet to get through now and then. */
	wait(chaos, draw(chaos, calm ? 60000 : 10000));
}

static void
random_signals_never_make_a_false_record(void **state)
{
	const unsigned seed = seed_take(4711);
	struct chaos *chaos = calloc(1, sizeof *chaos);
	(void)state;

	assert_non_null(chaos);
	int64_t made = 0;
	for (size_t k = 0; k < sizeof kinds / sizeof kinds[0]; k++) {
		struct line *line = line_new(kinds[k], 1, 0);
		int64_t seen = 0, whole = 0;

		for (int run = 0; run < RUNS; run++) {
			*chaos = (struct chaos){
			    .seed = seed + (unsigned)run, .now_ms = 1000000};
			plan_init(
			    &chaos->plan, kinds[k], line_rules(line), 1.0, run % 4 > 1);
			start(chaos);
			for (int i = 0; i < STEPS; i++)
				stir(chaos, run % 2 == 0);
			tracker_finish(chaos->tracker);
			tracker_free(chaos->tracker);
			plan_release(&chaos->plan);
			seen += chaos->shot_no;
			whole += chaos->whole;
		}
		print_message("%-17s %lld shots of nothing that is, %lld made\n",
		    kinds[k], (long long)seen, (long long)whole);
		assert_true(seen > 500);
		made += whole;
		line_free(line);
	}
	assert_true(made > 0);
	free(chaos);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(random_signals_never_make_a_false_record),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
