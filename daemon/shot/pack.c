/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/pack.h"

#include <assert.h>
#include <stdbool.h>
#include <stdlib.h>
#include <zlib.h>

#include "daemon/shot/pack_form.h"

enum { LEVEL = 6 }; /* of zlib; a pack of any level is read */

static enum pack_what
what_of(enum quality quality)
{
	switch (quality) {
	case QUALITY_GOOD:
	case QUALITY_SENSOR_FAULT:
	case QUALITY_OUT_OF_RANGE:
		return PACK_READ;
	case QUALITY_FROZEN:
		return PACK_FROZEN;
	case QUALITY_STALE:
		return PACK_STALE;
	case QUALITY_COMM_FAULT:
		return PACK_COMM_FAULT;
	}
	assert(!"a quality");
	return PACK_STALE;
}

/* --- packing ---------------------------------------------------------------------- */

struct output {
	unsigned char *bytes;
	size_t length, room;
	bool failed; /* memory is short */
};

/* Room for `more` bytes. */
static bool
reserve(struct output *output, size_t more)
{
	size_t room = output->room > 0 ? output->room : 4096;
	unsigned char *grown;

	if (output->failed || output->room - output->length >= more)
		return !output->failed;
	while (room - output->length < more)
		room *= 2;
	grown = realloc(output->bytes, room);
	output->failed = grown == NULL;
	if (grown == NULL)
		return false;
	output->bytes = grown;
	output->room = room;
	return true;
}

static void
put_number(struct output *output, uint64_t number)
{
	if (!reserve(output, PACK_NUMBER_MAX))
		return;
	for (; number >= 0x80; number >>= 7)
		output->bytes[output->length++] = (unsigned char)(number | 0x80);
	output->bytes[output->length++] = (unsigned char)number;
}

/* Where the column begins, for end_column. */
static size_t
begin_column(struct output *output)
{
	if (reserve(output, PACK_COLUMN_LENGTH))
		output->length += PACK_COLUMN_LENGTH;
	return output->length;
}

static void
end_column(struct output *output, size_t begin)
{
	size_t length = output->length - begin;

	for (size_t i = 0; i < PACK_COLUMN_LENGTH && !output->failed; i++)
		output->bytes[begin - PACK_COLUMN_LENGTH + i] =
		    (unsigned char)(length >> 8 * i);
}

/* The scans of the same channels of one device, in order. */
struct part {
	uint32_t device, first, width;
	size_t begin, count; /* in parted.scans */
};

struct parted {
	const struct scan **scans;
	size_t part_count, part_room;
	struct part *parts;
};

static size_t
part_of(const struct parted *parted, const struct scan *scan)
{
	size_t place = 0;

	for (; place < parted->part_count; place++) {
		const struct part *part = &parted->parts[place];

		if (part->device == scan->device && part->first == scan->first &&
		    part->width == scan->count)
			break;
	}
	return place;
}

static bool
add_part(struct parted *parted, const struct scan *scan)
{
	if (parted->part_count == parted->part_room) {
		size_t room = parted->part_room > 0 ? 2 * parted->part_room : 16;
		struct part *grown = realloc(parted->parts, room * sizeof(*grown));

		if (grown == NULL)
			return false;
		parted->parts = grown;
		parted->part_room = room;
	}
	parted->parts[parted->part_count++] = (struct part){
	    .device = scan->device, .first = scan->first, .width = scan->count};
	return true;
}

/* Sorts the scans by what they are of; false when memory is short. */
static bool
part_scans(struct parted *parted, const struct scan *const *scans, size_t count)
{
	size_t begin = 0;

	parted->scans = calloc(count + 1, sizeof(struct scan *));
	if (parted->scans == NULL)
		return false;
	for (size_t i = 0; i < count; i++) {
		size_t place = part_of(parted, scans[i]);

		if (place == parted->part_count && !add_part(parted, scans[i]))
			return false;
		parted->parts[place].count++;
	}
	for (size_t p = 0; p < parted->part_count; p++) {
		parted->parts[p].begin = begin;
		begin += parted->parts[p].count;
		parted->parts[p].count = 0;
	}
	for (size_t i = 0; i < count; i++) {
		struct part *part = &parted->parts[part_of(parted, scans[i])];

		parted->scans[part->begin + part->count++] = scans[i];
	}
	return true;
}

static void
put_times(struct output *output, const struct scan *const *scans, size_t count)
{
	int64_t last = 0, step = 0;
	size_t begin = begin_column(output);

	for (size_t i = 0; i < count; i++) {
		int64_t next = pack_minus(scans[i]->at.ns, last);

		put_number(output, pack_zigzag(pack_minus(next, step)));
		last = scans[i]->at.ns;
		step = next;
	}
	end_column(output, begin);
	begin = begin_column(output);
	last = 0;
	for (size_t i = 0; i < count; i++) {
		int64_t took = pack_minus(scans[i]->at.ns, scans[i]->sent.ns);

		put_number(output, pack_zigzag(pack_minus(took, last)));
		last = took;
	}
	end_column(output, begin);
	begin = begin_column(output);
	last = 0;
	for (size_t i = 0; i < count; i++) {
		int64_t label = pack_minus(scans[i]->wall.ns, scans[i]->at.ns);

		put_number(output, pack_zigzag(pack_minus(label, last)));
		last = label;
	}
	end_column(output, begin);
}

static void
put_channel(struct output *output, const struct scan *const *scans, size_t count,
    uint32_t channel)
{
	size_t begin = begin_column(output);
	uint32_t last = 0;

	for (size_t i = 0, end; i < count; i = end) {
		enum pack_what what = what_of(scans[i]->readings[channel].quality);

		for (end = i + 1; end < count; end++)
			if (what_of(scans[end]->readings[channel].quality) != what)
				break;
		put_number(output, (end - i) * PACK_WHAT_COUNT + what);
		for (size_t k = i; pack_has_raw(what) && k < end; k++) {
			uint32_t raw = scans[k]->readings[channel].raw;

			put_number(output, pack_zigzag((int32_t)(raw - last)));
			last = raw;
		}
	}
	end_column(output, begin);
}

/* Version, length, and the deflated bytes; NULL when memory is short. */
static unsigned char *
deflated(const struct output *plain, size_t *byte_count)
{
	uLongf length = compressBound((uLong)plain->length);
	struct output head = {0};

	put_number(&head, PACK_VERSION);
	put_number(&head, plain->length);
	if (head.failed || !reserve(&head, length) ||
	    compress2(head.bytes + head.length, &length, plain->bytes,
		(uLong)plain->length, LEVEL) != Z_OK) {
		free(head.bytes);
		return NULL;
	}
	*byte_count = head.length + length;
	return head.bytes;
}

static void
put_parts(struct output *output, const struct parted *parted,
    const struct scan *const *scans, size_t count)
{
	size_t begin;

	put_number(output, count);
	put_number(output, parted->part_count);
	for (size_t p = 0; p < parted->part_count; p++) {
		put_number(output, parted->parts[p].device);
		put_number(output, parted->parts[p].first);
		put_number(output, parted->parts[p].width);
	}
	begin = begin_column(output);
	for (size_t i = 0; i < count; i++)
		put_number(output, part_of(parted, scans[i]));
	end_column(output, begin);
	for (size_t p = 0; p < parted->part_count; p++) {
		const struct part *part = &parted->parts[p];

		put_times(output, parted->scans + part->begin, part->count);
		for (uint32_t c = 0; c < part->width; c++)
			put_channel(
			    output, parted->scans + part->begin, part->count, c);
	}
}

unsigned char *
pack_scans(const struct scan *const *scans, size_t count, size_t *byte_count)
{
	struct output output = {0};
	struct parted parted = {0};
	unsigned char *bytes = NULL;

	assert(count <= PACK_SCANS_MAX);
	if (part_scans(&parted, scans, count)) {
		put_parts(&output, &parted, scans, count);
		if (!output.failed)
			bytes = deflated(&output, byte_count);
	}
	free(output.bytes);
	free(parted.scans);
	free(parted.parts);
	return bytes;
}
