/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scans of a played line on their way through tracker and filing into the ledger. */
#include "tests/unit/daemon/shot/player.h"

#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/ledger/filed.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/run/filing.h"
#include "daemon/run/lines.h"
#include "daemon/shot/circumstances.h"
#include "daemon/shot/trace.h"

static struct player player;
static struct filing *filing;
static struct lines *lines;
static char folder[256];
static struct error error;

static void
take_scan(void *arg, const struct scan *scan)
{
	(void)arg;
	lines_scan(lines, scan);
	assert_true(filing_write(filing, true));
}

static int
begin(void **state)
{
	const char *temporary = getenv("TMPDIR");

	(void)state;
	log_set_level(LOG_LEVEL_ERROR);
	snprintf(folder, sizeof(folder), "%s/evensoak-lines-XXXXXX",
	    temporary != NULL ? temporary : "/tmp");
	if (mkdtemp(folder) == NULL)
		return -1;
	player_init(&player);
	snprintf(player.settings->ledger, sizeof(player.settings->ledger),
	    "%s/ledger.db", folder);
	filing = filing_open(player.settings, &error);
	if (filing == NULL)
		return -1;
	lines = lines_start(player.settings, filing, false, &error);
	player.also = take_scan;
	return lines != NULL ? 0 : -1;
}

static int
end(void **state)
{
	static const char *const endings[] = {"", "-wal", "-shm"};
	char path[600];

	(void)state;
	lines_free(lines);
	filing_free(filing);
	for (size_t i = 0; i < sizeof(endings) / sizeof(endings[0]); i++) {
		snprintf(
		    path, sizeof(path), "%s%s", player.settings->ledger, endings[i]);
		unlink(path);
	}
	rmdir(folder);
	player_release(&player);
	return 0;
}

/* As a command does, while the line runs: the first top pyrometer shows `left_dc` too
 * much from `at` on. */
static void
calibrate(struct wall at, double left_dc)
{
	struct ledger *ledger = ledger_open(player.settings->ledger, NULL, &error);
	const struct ledger_calibration calibration = {
	    .line = "r",
	    .device = "io",
	    .channel = "top_1",
	    .at = at,
	    .as_found = left_dc,
	    .as_left = left_dc,
	};

	assert_non_null(ledger);
	assert_int_equal(ledger_put_calibration(ledger, &calibration, &error), 0);
	ledger_close(ledger);
}

static struct wall
wall_now(void)
{
	return (struct wall){(player.now_ms + player.wall_offset_ms) * 1000000};
}

static struct ledger_shot filed[PLAYER_SHOTS];

static int
take_filed(void *arg, const struct ledger_shot *shot)
{
	size_t *count = arg;

	assert_true(*count < PLAYER_SHOTS);
	filed[(*count)++] = *shot;
	return 0;
}

static size_t
read_filed(void)
{
	struct ledger_read *ledger = ledger_read_open(player.settings->ledger, &error);
	size_t count = 0;

	assert_non_null(ledger);
	assert_int_equal(
	    ledger_read_shots(ledger, &(struct ledger_filter){.by_time = true}, true,
		take_filed, &count, &error),
	    0);
	ledger_read_close(ledger);
	return count;
}

/* What the player's own tracker made, to which nobody told anything. */
static void
a_calibration_holds_for_the_shots_from_its_time_on_and_no_other(void **state)
{
	const int first = FEATURE_EXIT_TOP_FIRST, second = FEATURE_EXIT_TOP_FIRST + 1;
	size_t corrected = 0, as_it_was = 0;

	(void)state;
	player_cycles(&player, 5);
	struct wall at = wall_now();
	calibrate(at, 2.5);
	player_cycles(&player, 5);
	size_t count = read_filed();
	assert_int_equal(count, player.shot_count);
	for (size_t i = 0; i < count; i++) {
		const struct shot *untold = player.shots[i];
		double left_dc = filed[i].filed_at.ns >= at.ns ? 2.5 : 0;

		if (untold->absent[first] != ABSENT_NOT)
			continue;
		corrected += left_dc > 0;
		as_it_was += left_dc <= 0;
		assert_true(fabs(untold->value[first] - left_dc -
				 filed[i].value[first]) < 1e-9);
		assert_true(
		    filed_number(untold->value[second]) == filed[i].value[second]);
	}
	assert_true(corrected >= 3 && as_it_was >= 2);
}

/* From its trace, with what the ledger says was told of it. */
static void
assert_made_again_the_same(struct ledger_read *ledger, const struct ledger_shot *was)
{
	struct shot *is = shot_new(player.settings->channel_count);
	double *correction =
	    calloc(player.settings->channel_count, sizeof(*correction));
	struct circumstances circumstances;
	void *trace;
	size_t bytes;

	assert_non_null(is);
	assert_non_null(correction);
	is->side = -1;
	const struct ledger_question question = {
	    player.settings, 0, (int)strtol(was->recipe, NULL, 10), was->filed_at};
	assert_int_equal(ledger_read_circumstances(
			     ledger, &question, correction, &circumstances, &error),
	    0);
	assert_int_equal(ledger_read_trace(ledger, was->id, &trace, &bytes, &error), 0);
	assert_int_equal(
	    trace_recompute(&(struct trace_kept){trace, bytes, player.settings},
		player.settings, &circumstances, is, &error),
	    0);
	for (int id = 0; id < FEATURE_COUNT; id++) {
		assert_int_equal(is->absent[id], was->absent[id]);
		if (is->absent[id] == ABSENT_NOT)
			assert_true(filed_number(feature_from_si(id, is->value[id])) ==
				    was->value[id]);
	}
	assert_string_equal(is->properties, was->properties);
	free(trace);
	free(correction);
	shot_free(is);
}

static void
a_shot_made_again_with_what_was_told_of_it_is_the_same_to_the_last_bit(void **state)
{
	(void)state;
	player_cycles(&player, 3);
	calibrate(wall_now(), 2.5);
	player_cycles(&player, 3);
	calibrate(wall_now(), -0.7);
	player_cycles(&player, 3);
	size_t count = read_filed();
	struct ledger_read *ledger = ledger_read_open(player.settings->ledger, &error);
	assert_non_null(ledger);
	assert_true(count >= 8);
	for (size_t i = 0; i < count; i++)
		assert_made_again_the_same(ledger, &filed[i]);
	ledger_read_close(ledger);
}

static void
count_heat(void *arg, uint32_t line)
{
	int *heats = arg;

	assert_int_equal(line, 0);
	++*heats;
}

static void
each_heat_is_told_to_whoever_can_read_what_is_wanted_then(void **state)
{
	int heats = 0;

	(void)state;
	player_cycles(&player, 2); /* to nobody */
	lines_set_hook(lines, (struct lines_hook){count_heat, &heats});
	player_cycles(&player, 5);
	assert_int_equal(heats, 5);
	lines_set_hook(lines, (struct lines_hook){NULL, NULL});
	player_cycles(&player, 1);
	assert_int_equal(heats, 5);
}

/* Nobody stands at the machine any more. */
static void
replayed_heats_hurry_nobody(void **state)
{
	int heats = 0;

	(void)state;
	lines_free(lines);
	lines = lines_start(player.settings, filing, true, &error);
	assert_non_null(lines);
	lines_set_hook(lines, (struct lines_hook){count_heat, &heats});
	player_cycles(&player, 3);
	assert_int_equal(heats, 0);
}

static int
count_kind(void *arg, const struct ledger_event *event)
{
	int *counts = arg;

	if (strcmp(event->kind, "manual") == 0)
		counts[strstr(event->text, "only counted") != NULL]++;
	return 0;
}

/* A bit that blinks for two days, once a minute. */
static void
a_bit_that_blinks_makes_no_flood_of_events(void **state)
{
	int counts[2] = {0};

	(void)state;
	for (int minute = 0; minute < 2 * 1440 + 30; minute++) {
		player.plc[PLC_AUTO] = minute % 2;
		player_scan(
		    &player, 0, player.plc, PLC_CHANNELS, player.plc_silent, NULL);
		player.now_ms += 60000;
	}
	struct ledger_read *ledger = ledger_read_open(player.settings->ledger, &error);
	assert_non_null(ledger);
	assert_int_equal(
	    ledger_read_events(ledger, &(struct ledger_filter){.by_time = true},
		count_kind, counts, &error),
	    0);
	ledger_read_close(ledger);
	assert_in_range(counts[0], 2 * LINES_DAY, 2 * LINES_DAY + 30);
	assert_int_equal(counts[1], 2);
}

#define LINED(f) cmocka_unit_test_setup_teardown(f, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    LINED(a_calibration_holds_for_the_shots_from_its_time_on_and_no_other),
	    LINED(
		a_shot_made_again_with_what_was_told_of_it_is_the_same_to_the_last_bit),
	    LINED(each_heat_is_told_to_whoever_can_read_what_is_wanted_then),
	    LINED(replayed_heats_hurry_nobody),
	    LINED(a_bit_that_blinks_makes_no_flood_of_events),
	};

	return cmocka_run_group_tests_name("lines", tests, NULL, NULL);
}
