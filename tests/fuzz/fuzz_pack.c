/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Bytes that a ledger or a recording kept as packed scans.  Whatever is taken out of them
 * is a scan of the plant with times that a clock shows, and what was read whole is the
 * same, in every bit, when it is packed again.
 *
 * Input: 'z' and what a pack holds deflated, 'y' the same in the first form; anything else,
 * the pack as it is.
 */
#include "tests/fuzz/target.h"

#include <math.h>
#include <zlib.h>

#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/pack.h"
#include "daemon/shot/pack_form.h"

#include "tests/fuzz/plant.h"

enum { SCANS_MAX = 2000, DEFLATED_ROOM = 1 << 20 };

struct scans {
	const struct settings *settings;
	size_t count; /* also beyond the list */
	struct scan *list[SCANS_MAX];
};

static void
check_reading(const struct channel_settings *channel, const struct reading *reading)
{
	MUST((reading->quality == QUALITY_GOOD) == !isnan(reading->value));
	if (reading->quality == QUALITY_GOOD && channel->encoding != ENCODING_BIT)
		MUST(reading->value >= channel->min_si &&
		     reading->value <= channel->max_si);
	MUST(reading->quality != QUALITY_STALE || reading->raw == 0);
	MUST(reading->quality != QUALITY_COMM_FAULT || reading->raw == 0);
}

static int
take(void *arg, const struct scan *scan)
{
	struct scans *scans = arg;
	const struct settings *settings = scans->settings;

	MUST(scan->device < settings->device_count);
	const struct device_settings *device = &settings->devices[scan->device];
	MUST(scan->first + scan->count <= device->channel_count);
	MUST(scan->at.ns >= -FREEZE_MONO_MAX_NS && scan->at.ns <= FREEZE_MONO_MAX_NS);
	MUST(scan->sent.ns >= -FREEZE_MONO_MAX_NS &&
	     scan->sent.ns <= FREEZE_MONO_MAX_NS);
	MUST(scan->wall.ns >= -FREEZE_WALL_MAX_NS &&
	     scan->wall.ns <= FREEZE_WALL_MAX_NS);
	for (uint32_t i = 0; i < scan->count; i++)
		check_reading(
		    &settings->channels[device->first_channel + scan->first + i],
		    &scan->readings[i]);
	if (scans->count < SCANS_MAX) {
		struct scan *copy = malloc(scan_bytes(scan->count));

		MUST(copy != NULL);
		memcpy(copy, scan, scan_bytes(scan->count));
		scans->list[scans->count] = copy;
	}
	scans->count++;
	return 0;
}

static void
scans_free(struct scans *scans)
{
	for (size_t i = 0; i < scans->count && i < SCANS_MAX; i++)
		free(scans->list[i]);
}

static bool
is_same(const struct scan *a, const struct scan *b)
{
	if (a->device != b->device || a->first != b->first || a->count != b->count ||
	    a->at.ns != b->at.ns || a->sent.ns != b->sent.ns ||
	    a->wall.ns != b->wall.ns)
		return false;
	for (uint32_t i = 0; i < a->count; i++)
		if (a->readings[i].quality != b->readings[i].quality ||
		    a->readings[i].raw != b->readings[i].raw ||
		    (a->readings[i].quality == QUALITY_GOOD &&
			memcmp(&a->readings[i].value, &b->readings[i].value,
			    sizeof(double)) != 0))
			return false;
	return true;
}

static void
pack_again(const struct scans *scans)
{
	struct scans again = {.settings = scans->settings};
	struct pack_reader reader = {scans->settings, scans->settings, take, &again};
	struct error error = {""};
	size_t length;
	unsigned char *bytes =
	    pack_scans((const struct scan *const *)scans->list, scans->count, &length);

	MUST(bytes != NULL);
	MUST(pack_read(bytes, length, &reader, &error) == 0);
	MUST(again.count == scans->count);
	for (size_t i = 0; i < scans->count; i++)
		MUST(is_same(scans->list[i], again.list[i]));
	scans_free(&again);
	free(bytes);
}

static size_t
put_number(unsigned char *bytes, uint64_t number)
{
	size_t length = 0;

	for (; number >= 0x80; number >>= 7)
		bytes[length++] = (unsigned char)(number | 0x80);
	bytes[length++] = (unsigned char)number;
	return length;
}

/* A pack around what it holds, so that damage reaches behind zlib's check sum. */
static size_t
deflate_into(unsigned char *bytes, const struct input *input, unsigned version)
{
	size_t length = put_number(bytes, version);
	uLongf room = DEFLATED_ROOM - 32;

	length += put_number(bytes + length, input->left);
	MUST(
	    compress2(bytes + length, &room, input->at, (uLong)input->left, 1) == Z_OK);
	return length + room;
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static unsigned char deflated[DEFLATED_ROOM];
	static struct settings *settings, *other;
	struct input input = {bytes, length};
	struct error error = {""};

	if (settings == NULL) {
		settings = plant_parse(PLANT_ROTARY);
		other = plant_parse(PLANT_SHUTTLE);
	}
	if (length > 0 && length < DEFLATED_ROOM / 2 &&
	    (bytes[0] == 'z' || bytes[0] == 'y')) {
		bool first = input_u8(&input) == 'y';
		input.left = deflate_into(
		    deflated, &input, first ? PACK_VERSION_FIRST : PACK_VERSION);
		input.at = deflated;
	}
	struct scans scans = {.settings = settings};
	struct scans elsewhere = {.settings = other};
	int rc = pack_read(input.at, input.left,
	    &(struct pack_reader){settings, settings, take, &scans}, &error);

	MUST(rc == 0 || rc == ERROR_INVALID || rc == ERROR_MEMORY);
	MUST(rc == 0 || is_sentence(error.text, sizeof(error.text)));
	if (rc == 0 && scans.count <= SCANS_MAX)
		pack_again(&scans);
	/* what is whole does not depend on who reads it */
	MUST(rc == pack_read(input.at, input.left,
		       &(struct pack_reader){settings, other, take, &elsewhere},
		       &error));
	scans_free(&scans);
	scans_free(&elsewhere);
	return 0;
}
