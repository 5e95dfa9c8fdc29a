/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Scans through a pack and back: every bit of them, whatever they are; bytes that are no
 * pack. */
#include "tests/unit/daemon/shot/packed.h"

#include <zlib.h>

#include "tests/unit/seed.h"

#include "conf/register.h"
#include "daemon/shot/freeze.h"

static uint64_t
any(void)
{
	uint64_t bits = 0;

	for (int i = 0; i < 5; i++)
		bits = bits << 15 ^ (uint64_t)random();
	return bits;
}

static int64_t
any_within(int64_t max_ns)
{
	return (int64_t)(any() % (2 * (uint64_t)max_ns + 1)) - max_ns;
}

/* Of a group; times that go on, or that are any a clock can show; readings that move a little,
 * stand still, or are anything. */
static void
random_scan(struct scans *scans, struct scan *last[DEVICES][SETTINGS_GROUPS])
{
	uint32_t device = (uint32_t)random() % DEVICES;
	int group = (int)(random() % scans->made->devices[device].group_count);
	struct scan *scan = add_group(scans, device, group);
	struct scan *before = last[device][group];
	bool wild = before == NULL || random() % 20 == 0;

	scan->at.ns = any_within(FREEZE_MONO_MAX_NS);
	scan->sent.ns = any_within(FREEZE_MONO_MAX_NS);
	scan->wall.ns = any_within(FREEZE_WALL_MAX_NS);
	if (!wild && before->at.ns < FREEZE_MONO_MAX_NS - 1000000000 &&
	    before->at.ns > 1000000000 - FREEZE_MONO_MAX_NS) {
		scan->at.ns = before->at.ns + 500000000 + random() % 9999;
		scan->sent.ns = scan->at.ns - random() % 2000000;
		scan->wall.ns = scan->at.ns + INT64_C(1700000000000000000);
	}
	for (uint32_t i = 0; i < scan->count; i++) {
		int kind = (int)(random() % 12);
		uint32_t first = scans->made->devices[device].first_channel;
		const struct channel_settings *channel =
		    &scans->made->channels[first + scan->first + i];
		uint32_t mask =
		    register_width(channel->encoding) == 2 ? UINT32_MAX : UINT16_MAX;
		uint32_t raw = (uint32_t)any();

		if (before != NULL && kind > 3)
			raw = before->readings[i].raw + (uint32_t)(random() % 5) - 2;
		if (kind == 0 || (kind < 9 && before != NULL &&
				     before->readings[i].quality == QUALITY_STALE))
			continue; /* stale */
		read_raw(scans, scan, i, raw & mask);
		if (kind == 1)
			scan->readings[i] =
			    (struct reading){NAN, QUALITY_COMM_FAULT, 0};
		else if (kind == 2 && device == IO)
			freeze(scan, i);
	}
	last[device][group] = scan;
}

/* --- and back ------------------------------------------------------------------------ */

struct reader {
	const struct scans *scans;
	size_t count;
};

static int
compare(void *arg, const struct scan *scan)
{
	struct reader *reader = arg;
	const struct scan *right = reader->scans->list[reader->count++];

	assert_int_equal(scan->device, right->device);
	assert_int_equal(scan->first, right->first);
	assert_int_equal(scan->count, right->count);
	assert_true(scan->sent.ns == right->sent.ns && scan->at.ns == right->at.ns &&
		    scan->wall.ns == right->wall.ns);
	for (uint32_t i = 0; i < scan->count; i++) {
		assert_int_equal(scan->readings[i].quality, right->readings[i].quality);
		assert_int_equal(scan->readings[i].raw, right->readings[i].raw);
		if (scan->readings[i].quality == QUALITY_GOOD)
			assert_memory_equal(&scan->readings[i].value,
			    &right->readings[i].value, sizeof(double));
		else
			assert_true(isnan(scan->readings[i].value));
	}
	return 0;
}

/* With the tool's channel in a group of its own, or with one group a device. */
static void
random_scans_come_back_in_every_bit(void **state)
{
	static const char one[] = "address = 20\n",
			  two[] = "address = 20\nperiod_ms = 5000\n";
	unsigned seed = seed_take(1);

	(void)state;
	for (unsigned round = 0; round < 60; round++) {
		struct settings *settings = corrected(one, round % 3 ? two : one);
		struct settings *again = corrected(one, round % 3 ? two : one);
		struct scans scans = {.made = settings};
		struct reader reader = {.scans = &scans};
		struct scan *last[DEVICES][SETTINGS_GROUPS] = {{NULL}};
		struct error error;
		size_t byte_count;

		srandom(seed * 1000 + round);
		for (int i = (int)round * 6; i > 0; i--)
			random_scan(&scans, last);
		unsigned char *bytes = pack(&scans, &byte_count);

		/* the same settings, read twice, are known by their names */
		assert_int_equal(
		    pack_read(bytes, byte_count,
			&(struct pack_reader){
			    settings, round % 2 ? settings : again, compare, &reader},
			&error),
		    0);
		assert_int_equal(reader.count, scans.count);
		free(bytes);
		scans_free(&scans);
		settings_free(settings);
		settings_free(again);
	}
}

static int
enough(void *arg, const struct scan *scan)
{
	size_t *count = arg;

	(void)scan;
	return ++*count == 3 ? 42 : 0;
}

static void
whoever_takes_may_end_it(void **state)
{
	struct settings *settings = parse(plant);
	struct scans scans = {.made = settings};
	size_t byte_count, count = 0;
	struct error error;

	(void)state;
	for (int i = 0; i < 9; i++)
		add(&scans, PLC);
	unsigned char *bytes = pack(&scans, &byte_count);
	assert_int_equal(
	    pack_read(bytes, byte_count,
		&(struct pack_reader){settings, settings, enough, &count}, &error),
	    42);
	assert_int_equal(count, 3);
	free(bytes);
	scans_free(&scans);
	settings_free(settings);
}

/* --- the form ------------------------------------------------------------------------ */

/* A pack inflated; the number that is its length takes one byte or two.  Returns it. */
static size_t
inflated(const unsigned char *bytes, size_t byte_count, unsigned char plain[static 300])
{
	size_t head = byte_count > 1 && bytes[1] >= 0x80 ? 3 : 2;
	size_t told;
	uLongf length = 300;

	assert_true(byte_count > head && bytes[0] <= 2);
	told = bytes[1] & 0x7f;
	if (head == 3)
		told |= (size_t)bytes[2] << 7;
	assert_int_equal(
	    uncompress(plain, &length, bytes + head, byte_count - head), Z_OK);
	assert_int_equal(length, told);
	return length;
}

static void
the_form_does_not_change_from_release_to_release(void **state)
{
	struct settings *settings = parse(plant);
	struct scans scans = {.made = settings};
	unsigned char then[300], now[300];
	size_t byte_count;

	(void)state;
	small_2(&scans);
	unsigned char *bytes = pack(&scans, &byte_count);
	size_t length = inflated(golden_2, sizeof(golden_2), then);
	assert_int_equal(bytes[0], golden_2[0]);
	assert_int_equal(inflated(bytes, byte_count, now), length);
	assert_memory_equal(now, then, length);
	free(bytes);
	scans_free(&scans);
	settings_free(settings);
}

static void
a_pack_of_the_first_release_is_read(void **state)
{
	struct settings *settings = parse(plant);
	struct scans scans = {.made = settings};
	struct reader reader = {.scans = &scans};
	struct error error;

	(void)state;
	small(&scans);
	assert_int_equal(
	    pack_read(golden, sizeof(golden),
		&(struct pack_reader){settings, settings, compare, &reader}, &error),
	    0);
	assert_int_equal(reader.count, 3);
	scans_free(&scans);
	settings_free(settings);
}

static void
a_pack_of_the_second_form_is_read(void **state)
{
	struct settings *settings = parse(plant);
	struct scans scans = {.made = settings};
	struct reader reader = {.scans = &scans};
	struct error error;

	(void)state;
	small_2(&scans);
	assert_int_equal(
	    pack_read(golden_2, sizeof(golden_2),
		&(struct pack_reader){settings, settings, compare, &reader}, &error),
	    0);
	assert_int_equal(reader.count, scans.count);
	scans_free(&scans);
	settings_free(settings);
}

static void
cut_and_flip(const unsigned char *whole, size_t size, void (*fill)(struct scans *scans))
{
	struct settings *settings = parse(plant);
	struct scans scans = {.made = settings};
	unsigned char *part = malloc(size);
	struct error error;

	fill(&scans);
	for (size_t length = 0; length < size; length++) {
		/* in a room of its own, so that reading what lies behind is noticed */
		unsigned char *cut = malloc(length > 0 ? length : 1);

		memcpy(cut, whole, length);
		assert_int_equal(
		    pack_read(cut, length,
			&(struct pack_reader){settings, settings, drop, NULL}, &error),
		    ERROR_INVALID);
		free(cut);
	}
	for (size_t bit = 0; bit < 8 * size; bit++) {
		struct reader reader = {.scans = &scans};
		int rc;

		memcpy(part, whole, size);
		part[bit / 8] ^= (unsigned char)(1 << bit % 8);
		rc = pack_read(part, size,
		    &(struct pack_reader){settings, settings, compare, &reader},
		    &error);
		/* a bit may mean nothing: then it does not change anything */
		assert_true(
		    rc == ERROR_INVALID || (rc == 0 && reader.count == scans.count));
	}
	free(part);
	scans_free(&scans);
	settings_free(settings);
}

static void
bytes_that_were_cut_or_flipped_are_refused(void **state)
{
	(void)state;
	cut_and_flip(golden, sizeof(golden), small);
	cut_and_flip(golden_2, sizeof(golden_2), small_2);
}

/* A pack of these bytes, not compressed, in a room of its own. */
static unsigned char *
packed_plain(
    unsigned char form, const unsigned char *plain, size_t plain_length, size_t *length)
{
	unsigned char *packed = malloc(plain_length + 100);
	uLongf rest = plain_length + 97;

	packed[0] = form;
	packed[1] = (unsigned char)(plain_length | 0x80);
	packed[2] = (unsigned char)(plain_length >> 7);
	assert_int_equal(compress2(packed + 3, &rest, plain, plain_length, 0), Z_OK);
	*length = rest + 3;
	return realloc(packed, *length);
}

/* What an attacker, or a bug, could write: the stream is sound, what is in it is not. */
static void
a_sound_stream_of_nonsense_does_no_harm(void **state)
{
	struct settings *settings = parse(plant);
	unsigned seed = seed_take(2);

	(void)state;
	for (unsigned round = 0; round < 6000; round++) {
		unsigned char plain[300];
		bool first = round % 2 > 0;
		size_t length,
		    plain_length = first ? inflated(golden, sizeof(golden), plain)
		                         : inflated(golden_2, sizeof(golden_2), plain);
		struct error error;

		srandom(seed * 10000 + round);
		for (int i = (int)(random() % 6); i >= 0; i--)
			plain[(size_t)random() % plain_length] =
			    (unsigned char)(random() % 3 ? random() % 256 : 255);
		unsigned char *packed =
		    packed_plain(first ? 1 : 2, plain, plain_length, &length);
		int rc = pack_read(packed, length,
		    &(struct pack_reader){settings, settings, drop, NULL}, &error);
		free(packed);
		assert_true(rc == 0 || rc == ERROR_INVALID);
	}
	settings_free(settings);
}

static int
read_times(struct settings *settings, int64_t sent_ns, int64_t at_ns, int64_t wall_ns)
{
	struct scans scans = {.made = settings};
	struct scan *scan = add(&scans, PLC);
	size_t byte_count;
	struct error error;

	scan->sent.ns = sent_ns;
	scan->at.ns = at_ns;
	scan->wall.ns = wall_ns;

	unsigned char *bytes = pack(&scans, &byte_count);
	int rc = pack_read(bytes, byte_count,
	    &(struct pack_reader){settings, settings, drop, NULL}, &error);

	free(bytes);
	scans_free(&scans);
	return rc;
}

static void
times_that_no_clock_shows_are_refused(void **state)
{
	static const int64_t monos[] = {
	    INT64_MIN, INT64_MIN + 5, INT64_MAX, INT64_MAX - 5, INT64_MAX / 4 + 1};
	static const int64_t walls[] = {
	    INT64_MIN, -INT64_MAX / 2 - 1, INT64_MAX / 2 + 1, INT64_MAX};
	struct settings *settings = parse(plant);
	int64_t least = -INT64_MAX / 4, most = INT64_MAX / 4;

	(void)state;
	assert_int_equal(read_times(settings, least, most, INT64_MAX / 2), 0);
	assert_int_equal(read_times(settings, most, least, -INT64_MAX / 2), 0);
	for (size_t i = 0; i < sizeof(monos) / sizeof(monos[0]); i++) {
		assert_int_equal(read_times(settings, monos[i], 5, 5), ERROR_INVALID);
		assert_int_equal(read_times(settings, 5, monos[i], 5), ERROR_INVALID);
	}
	for (size_t i = 0; i < sizeof(walls) / sizeof(walls[0]); i++)
		assert_int_equal(read_times(settings, 5, 5, walls[i]), ERROR_INVALID);
	settings_free(settings);
}

static int
never(void *arg, const struct scan *scan)
{
	(void)arg;
	fail_msg("a scan of %lld ns", (long long)scan->at.ns);
	return 0;
}

/* Four polls of a controller's two bits at the ends of time, as one who forges a
 * recording would have them. */
static void
a_forged_pack_of_wild_times_gives_no_scan(void **state)
{
	static const unsigned char forged[] = {0x01, 0x48, 0x78, 0x9c, 0x63, 0x61, 0x64,
	    0x60, 0x62, 0x61, 0x80, 0x00, 0x5e, 0x20, 0xfe, 0xfa, 0x1f, 0x0a, 0x18,
	    0x39, 0x45, 0x45, 0x90, 0x25, 0x5e, 0xc0, 0x25, 0x98, 0x74, 0x98, 0x58,
	    0x81, 0x02, 0x3c, 0x0c, 0x4c, 0x8c, 0x08, 0x06, 0x00, 0xd6, 0x96, 0x12,
	    0x87};
	struct settings *settings = parse(plant);
	struct error error;

	(void)state;
	assert_int_equal(
	    pack_read(forged, sizeof(forged),
		&(struct pack_reader){settings, settings, never, NULL}, &error),
	    ERROR_INVALID);
	settings_free(settings);
}

/* --- how small ------------------------------------------------------------------------ */

static void
steady_readings_take_next_to_nothing(void **state)
{
	struct settings *settings = parse(plant);
	struct scans scans = {.made = settings};
	size_t byte_count;

	(void)state;
	for (int i = 0; i < 300; i++) {
		struct scan *scan = add(&scans, IO);

		scan->at.ns = scan->sent.ns = INT64_C(1000000000) * i;
		for (uint32_t k = 0; k < scan->count; k++)
			read_raw(&scans, scan, k, 1400);
	}
	free(pack(&scans, &byte_count));
	assert_true(byte_count < 150);
	scans_free(&scans);
	settings_free(settings);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(random_scans_come_back_in_every_bit),
	    cmocka_unit_test(whoever_takes_may_end_it),
	    cmocka_unit_test(the_form_does_not_change_from_release_to_release),
	    cmocka_unit_test(a_pack_of_the_first_release_is_read),
	    cmocka_unit_test(a_pack_of_the_second_form_is_read),
	    cmocka_unit_test(bytes_that_were_cut_or_flipped_are_refused),
	    cmocka_unit_test(a_sound_stream_of_nonsense_does_no_harm),
	    cmocka_unit_test(times_that_no_clock_shows_are_refused),
	    cmocka_unit_test(a_forged_pack_of_wild_times_gives_no_scan),
	    cmocka_unit_test(steady_readings_take_next_to_nothing),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
