/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/pack.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <zlib.h>

#include "conf/raw.h"
#include "conf/register.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/pack_form.h"
#include "daemon/shot/pack_wanted.h"

enum {
	DEFLATE_RATIO_MAX = 1032
}; /* of what zlib can inflate (zlib's technical notes) */

/* Bytes still to be read; a number that is not there, or is none, sets `bad`. */
struct column {
	const unsigned char *at, *end;
	bool bad;
};

static uint64_t
take_number(struct column *column)
{
	uint64_t number = 0;

	for (unsigned shift = 0; shift < 64 && column->at < column->end; shift += 7) {
		unsigned char byte = *column->at++;

		number |= (uint64_t)(byte & 0x7f) << shift;
		if (byte < 0x80)
			return number;
	}
	column->bad = true;
	return 0;
}

static int64_t
take_difference(struct column *column)
{
	return pack_unzigzag(take_number(column));
}

/* The column that `from` has next, cut off from it. */
static struct column
take_column(struct column *from)
{
	struct column column = {.at = from->at, .end = from->at};
	size_t length = 0;

	if (from->end - from->at < PACK_COLUMN_LENGTH) {
		from->bad = true;
		return column;
	}
	for (unsigned i = 0; i < PACK_COLUMN_LENGTH; i++)
		length |= (size_t)*from->at++ << 8 * i;
	if ((size_t)(from->end - from->at) < length) {
		from->bad = true;
		return column;
	}
	column.at = from->at;
	column.end = from->at += length;
	return column;
}

/* --- one part --------------------------------------------------------------------- */

struct channel_column {
	struct column column;
	uint64_t left; /* of the run */
	uint64_t what; /* enum pack_what */
	uint32_t raw;  /* the last one read */
};

struct part {
	struct column at, took, label;
	int64_t last_at, step, last_took, last_label;
	const struct channel_settings *made; /* its channels, as they were read */
	struct channel_column *columns;      /* one for each of them */
	struct pack_wanted wanted;
};

/* One channel's next reading, left in the column; `whats`: how many kinds of runs there are. */
static void
step_channel(struct channel_column *channel, unsigned whats)
{
	if (channel->left == 0) {
		uint64_t run = take_number(&channel->column);

		channel->left = run / whats;
		channel->what = run % whats;
		if (channel->left == 0) {
			channel->column.bad = true;
			return;
		}
	}
	channel->left--;
	if (pack_has_raw(channel->what))
		channel->raw += (uint32_t)take_difference(&channel->column);
}

/* The bytes of a 32-bit value from one order to the other; both ways are the same. */
static uint32_t
in_order(uint32_t raw, enum word_order order)
{
	if (order == WORD_ORDER_BADC || order == WORD_ORDER_DCBA)
		raw = (raw & 0x00ff00ff) << 8 | (raw >> 8 & 0x00ff00ff);
	if (order == WORD_ORDER_CDAB || order == WORD_ORDER_DCBA)
		raw = raw << 16 | raw >> 16;
	return raw;
}

/* What the column shows now, as the wanted channel. */
static struct reading
reading_of(const struct channel_column *column, const struct channel_settings *made,
    const struct channel_settings *wanted)
{
	uint32_t raw = column->raw;
	struct reading reading;

	if (!pack_has_raw(column->what))
		return (struct reading){.value = NAN,
		    .quality = column->what == PACK_STALE ? QUALITY_STALE
		                                          : QUALITY_COMM_FAULT};
	if (register_width(wanted->encoding) == 2)
		raw = in_order(in_order(raw, made->order), wanted->order);
	reading = raw_reading(wanted, raw);
	if (column->what == PACK_FROZEN) {
		reading.value = NAN;
		reading.quality = QUALITY_FROZEN;
	}
	return reading;
}

static bool
is_within(int64_t ns, int64_t max_ns)
{
	return ns >= -max_ns && ns <= max_ns;
}

/* When the part's next scan was; false when its bytes are none, or of no clock. */
static bool
step_times(struct part *part, struct scan *times)
{
	part->step = pack_plus(part->step, take_difference(&part->at));
	part->last_at = pack_plus(part->last_at, part->step);
	part->last_took = pack_plus(part->last_took, take_difference(&part->took));
	part->last_label = pack_plus(part->last_label, take_difference(&part->label));
	times->at.ns = part->last_at;
	times->sent.ns = pack_minus(part->last_at, part->last_took);
	times->wall.ns = pack_plus(part->last_at, part->last_label);
	return !part->at.bad && !part->took.bad && !part->label.bad &&
	       is_within(times->at.ns, FREEZE_MONO_MAX_NS) &&
	       is_within(times->sent.ns, FREEZE_MONO_MAX_NS) &&
	       is_within(times->wall.ns, FREEZE_WALL_MAX_NS);
}

/* The part's next scan, left in part->wanted.whole; false when its bytes are none. */
static bool
step_part(
    struct part *part, uint32_t width, unsigned whats, const struct settings *wanted)
{
	struct scan *scan = part->wanted.whole;
	struct scan times = {0};
	bool bad = !step_times(part, &times);

	for (uint32_t i = 0; i < width; i++) {
		step_channel(&part->columns[i], whats);
		bad |= part->columns[i].column.bad;
	}
	if (bad || scan == NULL)
		return !bad;
	scan->at = times.at;
	scan->sent = times.sent;
	scan->wall = times.wall;
	const struct channel_settings *channels =
	    &wanted
		 ->channels[wanted->devices[scan->device].first_channel + scan->first];
	for (uint32_t i = 0; i < scan->count; i++) {
		int64_t source = part->wanted.sources[i];

		if (source != PACK_NO_SOURCE)
			scan->readings[i] = reading_of(
			    &part->columns[source], &part->made[source], &channels[i]);
	}
	return true;
}

/* --- all of them -------------------------------------------------------------------- */

struct unpack {
	const struct pack_reader *reader;
	unsigned char *bytes; /* inflated */
	struct column rest, order;
	bool first_version;
	uint64_t scan_count, part_count;
	struct reading *held;    /* by wanted channel */
	struct pack_part *where; /* of each part */
	struct part *parts;
};

static int
no_pack(struct error *error)
{
	return error_set(error, ERROR_INVALID, "the bytes are no whole pack of scans");
}

static int
open_part(struct unpack *unpack, size_t place, struct error *error)
{
	const struct pack_reader *reader = unpack->reader;
	struct part *part = &unpack->parts[place];
	const struct pack_part *where = &unpack->where[place];
	const struct device_settings *made = &reader->made->devices[where->device];

	part->made = &reader->made->channels[made->first_channel + where->first];
	part->columns = calloc(where->width + 1, sizeof(*part->columns));
	if (part->columns == NULL ||
	    pack_wanted_init(&part->wanted, reader->made, reader->wanted, unpack->where,
		unpack->part_count, place) != 0)
		return error_set(error, ERROR_MEMORY, "out of memory");
	part->at = take_column(&unpack->rest);
	part->took = take_column(&unpack->rest);
	part->label = take_column(&unpack->rest);
	for (uint32_t i = 0; i < where->width; i++)
		part->columns[i].column = take_column(&unpack->rest);
	return unpack->rest.bad ? no_pack(error) : 0;
}

static int
inflate_bytes(
    struct unpack *unpack, const void *bytes, size_t byte_count, struct error *error)
{
	const unsigned char *first = bytes;
	struct column packed = {.at = first, .end = first + byte_count};
	uint64_t version = take_number(&packed), length = take_number(&packed);
	uLongf inflated = (uLongf)length;

	if (packed.bad)
		return no_pack(error);
	unpack->first_version = version == PACK_VERSION_FIRST;
	if (version != PACK_VERSION && !unpack->first_version)
		return error_set(
		    error, ERROR_INVALID, "packed scans in a form that is not known");
	if (length > (uint64_t)(packed.end - packed.at) * DEFLATE_RATIO_MAX)
		return no_pack(error);
	unpack->bytes = malloc(length + 1);
	if (unpack->bytes == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	if (uncompress(unpack->bytes, &inflated, packed.at,
		(uLong)(packed.end - packed.at)) != Z_OK ||
	    inflated != length)
		return no_pack(error);
	unpack->rest =
	    (struct column){.at = unpack->bytes, .end = unpack->bytes + length};
	return 0;
}

/* What the next part is of; false when `made` has no such channels. */
static bool
take_where(struct unpack *unpack, struct pack_part *where)
{
	const struct settings *made = unpack->reader->made;
	uint64_t device = take_number(&unpack->rest);
	uint64_t first = unpack->first_version ? 0 : take_number(&unpack->rest);
	uint64_t width = take_number(&unpack->rest), channels;

	if (unpack->rest.bad || device >= made->device_count)
		return false;
	channels = made->devices[device].channel_count;
	*where = (struct pack_part){(uint32_t)device, (uint32_t)first, (uint32_t)width};
	if (unpack->first_version)
		return width == channels;
	return first <= channels && width <= channels - first;
}

/* The parts.  No channel stands in two: together they have no more than there are. */
static int
take_parts(struct unpack *unpack, struct error *error)
{
	uint64_t widths = 0;

	for (size_t i = 0; i < unpack->part_count; i++) {
		if (!take_where(unpack, &unpack->where[i]))
			return error_set(error, ERROR_INVALID,
			    "the packed scans are of other devices");
		widths += unpack->where[i].width;
	}
	return widths <= unpack->reader->made->channel_count ? 0 : no_pack(error);
}

static int
open_pack(
    struct unpack *unpack, const void *bytes, size_t byte_count, struct error *error)
{
	int rc = inflate_bytes(unpack, bytes, byte_count, error);
	uint64_t part_count;

	if (rc != 0)
		return rc;
	unpack->scan_count = take_number(&unpack->rest);
	part_count = take_number(&unpack->rest);
	if (unpack->rest.bad || unpack->scan_count > PACK_SCANS_MAX ||
	    part_count > SETTINGS_CHANNELS)
		return no_pack(error);
	unpack->where = calloc(part_count + 1, sizeof(*unpack->where));
	unpack->parts = calloc(part_count + 1, sizeof(*unpack->parts));
	if (unpack->where == NULL || unpack->parts == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	unpack->part_count = part_count;
	rc = take_parts(unpack, error);
	unpack->order = take_column(&unpack->rest);
	for (size_t i = 0; i < unpack->part_count && rc == 0; i++)
		rc = open_part(unpack, i, error);
	if (rc == 0 && unpack->rest.at != unpack->rest.end)
		rc = no_pack(error);
	return rc;
}

static int
give_scans(struct unpack *unpack, struct error *error)
{
	const struct pack_reader *reader = unpack->reader;
	unsigned whats =
	    unpack->first_version ? PACK_WHAT_FIRST_COUNT : PACK_WHAT_COUNT;
	int rc = 0;

	for (uint64_t i = 0; i < unpack->scan_count && rc == 0; i++) {
		uint64_t place = take_number(&unpack->order);

		if (unpack->order.bad || place >= unpack->part_count ||
		    !step_part(&unpack->parts[place], unpack->where[place].width, whats,
			reader->wanted))
			return no_pack(error);
		if (unpack->parts[place].wanted.run_count > 0)
			rc = pack_wanted_give(&unpack->parts[place].wanted,
			    reader->wanted, unpack->held, reader->take, reader->arg);
	}
	return rc;
}

int
pack_read_on(const void *bytes, size_t byte_count, const struct pack_reader *reader,
    struct reading *held, struct error *error)
{
	struct unpack unpack = {.reader = reader, .held = held};
	int rc = open_pack(&unpack, bytes, byte_count, error);

	if (rc == 0)
		rc = give_scans(&unpack, error);
	for (size_t i = 0; unpack.parts != NULL && i < unpack.part_count; i++) {
		free(unpack.parts[i].columns);
		pack_wanted_release(&unpack.parts[i].wanted);
	}
	free(unpack.where);
	free(unpack.parts);
	free(unpack.bytes);
	return rc;
}

struct reading *
pack_held_new(const struct settings *wanted)
{
	return calloc(wanted->channel_count + 1, sizeof(struct reading));
}

int
pack_read(const void *bytes, size_t byte_count, const struct pack_reader *reader,
    struct error *error)
{
	struct reading *held = pack_held_new(reader->wanted);
	int rc = held == NULL ? error_set(error, ERROR_MEMORY, "out of memory")
	                      : pack_read_on(bytes, byte_count, reader, held, error);

	free(held);
	return rc;
}
