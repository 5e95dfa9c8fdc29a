/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Who stood where, as a logger saved it, damaged in any way, and scans that follow.  What
 * is taken up lets the line be followed: shots have ascending numbers and numbers in
 * them, and what is saved in turn can be taken up again.
 *
 * Input: the machine (bit 0), how many numbers were saved (2 bytes), these; when the
 * first scan comes (2 bytes, tenths of a second from an hour on); of each scan its device, 100 ms since the one before, and its raw readings (2 bytes each).
 */
#include "tests/fuzz/target.h"

#include <math.h>

#include "conf/raw.h"
#include "daemon/base/scan.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

#include "tests/fuzz/plant.h"

enum { SCANS_MAX = 400 };

struct follower {
	int64_t last_shot_no;
};

static void
take_shot(void *arg, struct shot *shot)
{
	struct follower *follower = arg;

	MUST(shot->shot_no == follower->last_shot_no + 1);
	follower->last_shot_no = shot->shot_no;
	MUST(shot->outcome < SHOT_OUTCOME_COUNT);
	for (int i = 0; i < FEATURE_COUNT; i++) {
		MUST((shot->absent[i] == ABSENT_NOT) == !isnan(shot->value[i]));
		MUST(!isinf(shot->value[i]));
	}
	shot_free(shot);
}

static void
take_event(void *arg, struct wall at, const char *kind, const char *text)
{
	(void)arg;
	(void)at;
	MUST(is_sentence(kind, 64));
	MUST(is_sentence(text, 1024));
}

static struct tracker *
start(const struct settings *settings, struct follower *follower, const void *saved,
    size_t length)
{
	struct tracker_start begin = {.last_shot_no = follower->last_shot_no,
	    .saved = saved,
	    .saved_bytes = length};
	struct tracker_sink sink = {
	    .shot = take_shot, .event = take_event, .arg = follower};
	struct tracker *tracker = tracker_new(settings, 0, begin, sink);

	MUST(tracker != NULL);
	return tracker;
}

static void
follow(struct tracker *tracker, const struct settings *settings, struct input *input,
    int64_t from_ns)
{
	const uint32_t readings = 16;
	struct scan *scan = calloc(1, scan_bytes(readings));
	int64_t at_ns = from_ns;

	MUST(scan != NULL);
	for (int i = 0; i < SCANS_MAX && input->left > 0; i++) {
		scan->device = input_u8(input) % (uint32_t)settings->device_count;
		const struct device_settings *device = &settings->devices[scan->device];

		MUST(device->channel_count <= readings);
		at_ns += INT64_C(100000000) * input_u8(input);
		scan->first = 0;
		scan->count = device->channel_count;
		scan->at.ns = at_ns;
		scan->sent.ns = at_ns - 1000000;
		scan->wall.ns = at_ns + INT64_C(1700000000000000000);
		for (uint32_t c = 0; c < scan->count; c++)
			scan->readings[c] =
			    raw_reading(&settings->channels[device->first_channel + c],
				input_u16(input));
		tracker_scan(tracker, scan);
	}
	free(scan);
}

/* What is saved is taken up, or there was no scan. */
static void
save_again(const struct tracker *tracker, const struct settings *settings,
    const struct follower *follower)
{
	static unsigned char bytes[TRACKER_SAVED_MAX];
	struct tracker_place places[TRACKER_PLACES_MAX];
	struct follower next = *follower;
	struct input none = {NULL, 0};
	size_t length = tracker_save(tracker, bytes, sizeof(bytes));
	size_t count = tracker_places(tracker, (struct mono){0}, places);

	MUST(count <= TRACKER_PLACES_MAX);
	if (length == 0)
		return;
	struct tracker *again = start(settings, &next, bytes, length);
	follow(again, settings, &none, 0);
	tracker_free(again);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static struct settings *machines[2];
	static unsigned char saved[TRACKER_SAVED_MAX];
	struct input input = {bytes, length};
	struct follower follower = {0};

	if (machines[0] == NULL) {
		machines[0] = plant_parse(PLANT_ROTARY);
		machines[1] = plant_parse(PLANT_SHUTTLE);
	}
	const struct settings *settings = machines[input_u8(&input) & 1];
	size_t count = input_u16(&input) % (sizeof(saved) / 8);
	size_t saved_bytes = input_frozen(&input, count, saved);
	struct tracker *tracker = start(settings, &follower, saved, saved_bytes);

	int64_t from_ds = 36000 + input_u16(&input);
	follow(tracker, settings, &input, from_ds * INT64_C(100000000));
	save_again(tracker, settings, &follower);
	tracker_finish(tracker);
	tracker_free(tracker);
	return 0;
}
