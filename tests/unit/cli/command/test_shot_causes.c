/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shot_causes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include <math.h>

#include "cli/page/page.h"
#include "conf/raw.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"

enum { TOOLS = 14, BIT = TOOLS, CHANNELS, SENTINEL = 0x7fff };

/* A row of tool sensors with one fault bit. */
struct bench {
	struct settings settings;
	struct device_settings device;
	struct channel_settings channels[CHANNELS];
	struct shot_causes *causes;
	struct scan *scan;
	char *out;
};

static int
open_bench(void **state)
{
	struct bench *bench = calloc(1, sizeof *bench);

	assert_non_null(bench);
	strcpy(bench->device.name, "press");
	bench->device.channel_count = CHANNELS;
	bench->settings.devices = &bench->device;
	bench->settings.device_count = 1;
	bench->settings.channels = bench->channels;
	bench->settings.channel_count = CHANNELS;
	for (int i = 0; i < CHANNELS; i++) {
		struct channel_settings *channel = &bench->channels[i];

		snprintf(channel->name, sizeof channel->name, "tool_%d", i + 1);
		channel->encoding = i == BIT ? ENCODING_BIT : ENCODING_INT16;
		channel->bit = -1;
		channel->scale = 0.1;
		channel->unit = i == BIT ? UNIT_ONE : UNIT_CELSIUS;
		channel->dimension = i == BIT ? DIMENSION_NONE : DIMENSION_TEMPERATURE;
		channel->min_si = -INFINITY;
		channel->max_si = i == 1 ? 100 : INFINITY;
		channel->sentinel_count = 1;
		channel->sentinels[0] = SENTINEL;
		channel->fault_channel = i == BIT ? -1 : BIT;
	}
	strcpy(bench->channels[BIT].name, "broken");
	bench->causes = shot_causes_new(&bench->settings);
	bench->scan = calloc(1, scan_bytes(CHANNELS));
	assert_true(bench->causes != NULL && bench->scan != NULL);
	bench->scan->count = CHANNELS;
	*state = bench;
	return 0;
}

static int
close_bench(void **state)
{
	struct bench *bench = *state;

	shot_causes_free(bench->causes);
	free(bench->scan);
	free(bench->out);
	free(bench);
	return 0;
}

/* A scan: the first tool sensor's register and whether it had stood still, the others at 60 C,
 * and the bit. */
static void
add(struct bench *bench, uint32_t raw, bool frozen, bool broken)
{
	struct reading *readings = bench->scan->readings;

	for (int i = 0; i < CHANNELS; i++)
		readings[i] = raw_reading(&bench->channels[i], i == BIT ? broken : 600);
	readings[0] = raw_reading(&bench->channels[0], raw);
	if (frozen)
		readings[0] =
		    (struct reading){.value = NAN, .quality = QUALITY_FROZEN, raw};
	raw_apply_faults(&bench->settings, bench->scan);
	shot_causes_add(bench->causes, bench->scan);
}

/* Without ends of lines within a sentence. */
static const char *
put(struct bench *bench)
{
	size_t length;
	FILE *out = open_memstream(&bench->out, &length);
	struct page *page;

	assert_non_null(out);
	page = page_new(out, PAGE_TEXT, false, NULL);
	assert_non_null(page);
	page_set_width(page, 400);
	shot_causes_put(bench->causes, page);
	assert_int_equal(page_end(page), 0);
	fclose(out);
	return bench->out;
}

static void
each_cause_is_told_by_its_channel(void **state)
{
	struct bench *bench = *state;

	for (int i = 0; i < 5; i++)
		add(bench, 600, false, false);
	for (int i = 0; i < 3; i++)
		add(bench, SENTINEL, false, false);
	for (int i = 0; i < 4; i++)
		add(bench, 600, true, false);
	/* other reasons have words of their own in the record */
	bench->scan->readings[0].quality = QUALITY_COMM_FAULT;
	bench->scan->readings[1] = raw_reading(&bench->channels[1], 2000);
	shot_causes_add(bench->causes, bench->scan);
	/* what is not kept is no reading */
	bench->scan->readings[0].quality = QUALITY_STALE;
	shot_causes_add(bench->causes, bench->scan);
	assert_string_equal(put(bench),
	    "press.tool_1: of 13 readings, 3 a sentinel or no number, 4 while it had "
	    "stood still\n");
}

static void
a_fault_bit_is_named(void **state)
{
	struct bench *bench = *state;

	for (int i = 1; i < TOOLS; i++)
		bench->channels[i].fault_channel = -1;
	add(bench, 600, false, true);
	add(bench, 600, false, true);
	add(bench, SENTINEL, false, true);
	assert_string_equal(put(bench),
	    "press.tool_1: of 3 readings, 1 a sentinel or no number, 2 beside its "
	    "fault bit broken\n");
}

static void
a_sound_shot_has_nothing_to_tell(void **state)
{
	struct bench *bench = *state;

	add(bench, 600, false, false);
	assert_string_equal(put(bench), "");
}

static void
a_dozen_channels_are_told(void **state)
{
	struct bench *bench = *state;
	const char *told;
	int lines = 0;

	add(bench, 600, false, true);
	told = put(bench);
	for (const char *at = told; *at != '\0'; at++)
		lines += *at == '\n';
	assert_int_equal(lines, 13);
	assert_non_null(strstr(told, "press.tool_12: of 1 readings"));
	assert_null(strstr(told, "press.tool_13"));
	assert_non_null(strstr(told, "and so of 2 channels more\n"));
}

int
main(void)
{
#define BENCH(name) cmocka_unit_test_setup_teardown(name, open_bench, close_bench)
	const struct CMUnitTest tests[] = {
	    BENCH(each_cause_is_told_by_its_channel),
	    BENCH(a_fault_bit_is_named),
	    BENCH(a_sound_shot_has_nothing_to_tell),
	    BENCH(a_dozen_channels_are_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
