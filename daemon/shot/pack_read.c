/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/pack.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "conf/raw.h"
#include "conf/register.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/pack_form.h"

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

/* --- one device ------------------------------------------------------------------- */

struct channel_column {
	struct column column;
	uint64_t left; /* of the run */
	uint64_t what; /* enum pack_what */
	uint32_t raw;  /* the last one read */
};

enum { NO_SOURCE = -1 };

struct part {
	struct column at, took, label;
	int64_t last_at, step, last_took, last_label;
	const struct channel_settings
	    *made;                      /* of the device, as the scans were taken */
	struct channel_column *columns; /* one for each of them */
	const struct channel_settings *wanted; /* as they are to be read, ... */
	int64_t *sources;  /* ... and where in `columns` each has its registers */
	struct scan *scan; /* NULL: nobody wants the device */
};

/* One channel's next reading, left in the column. */
static void
step_channel(struct channel_column *channel)
{
	if (channel->left == 0) {
		uint64_t run = take_number(&channel->column);

		channel->left = run / PACK_WHAT_COUNT;
		channel->what = run % PACK_WHAT_COUNT;
		if (channel->left == 0) {
			channel->column.bad = true;
			return;
		}
	}
	channel->left--;
	if (channel->what == PACK_READ)
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

static struct reading
reading_of(const struct part *part, uint32_t channel)
{
	const struct channel_settings *wanted = &part->wanted[channel];
	int64_t source = part->sources[channel];
	const struct channel_column *column;
	uint32_t raw;

	if (source == NO_SOURCE)
		return (struct reading){.value = NAN, .quality = QUALITY_STALE};
	column = &part->columns[source];
	if (column->what != PACK_READ)
		return (struct reading){.value = NAN,
		    .quality = column->what == PACK_STALE ? QUALITY_STALE
		                                          : QUALITY_COMM_FAULT};
	raw = column->raw;
	if (register_width(wanted->encoding) == 2)
		raw = in_order(in_order(raw, part->made[source].order), wanted->order);
	return raw_reading(wanted, raw);
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

/* The part's next scan; false when its bytes are none. */
static bool
step_part(struct part *part, uint32_t width)
{
	struct scan *scan = part->scan;
	struct scan times = {0};
	bool bad = !step_times(part, &times);

	for (uint32_t i = 0; i < width; i++) {
		step_channel(&part->columns[i]);
		bad |= part->columns[i].column.bad;
	}
	if (bad || scan == NULL)
		return !bad;
	scan->at = times.at;
	scan->sent = times.sent;
	scan->wall = times.wall;
	for (uint32_t i = 0; i < scan->count; i++)
		scan->readings[i] = reading_of(part, i);
	return true;
}

/* --- all of them -------------------------------------------------------------------- */

struct unpack {
	const struct pack_reader *reader;
	unsigned char *bytes; /* inflated */
	struct column rest, order;
	uint64_t scan_count, part_count;
	struct part_width {
		uint32_t device, width; /* in `made` */
	} widths[SETTINGS_DEVICES];
	struct part parts[SETTINGS_DEVICES];
};

static int
no_pack(struct error *error)
{
	return error_set(error, ERROR_INVALID, "the bytes are no whole pack of scans");
}

/* Where the registers of a wanted channel stand among those of `device`: under its own name
 * if there is more than one such channel. */
static int64_t
find_source(const struct settings *made, const struct device_settings *device,
    const struct channel_settings *wanted)
{
	int64_t source = NO_SOURCE;

	for (uint32_t i = 0; i < device->channel_count; i++) {
		const struct channel_settings *channel =
		    &made->channels[device->first_channel + i];

		if (channel->table != wanted->table ||
		    channel->address != wanted->address ||
		    register_width(channel->encoding) !=
			register_width(wanted->encoding))
			continue;
		if (strcmp(channel->name, wanted->name) == 0)
			return i;
		if (source == NO_SOURCE)
			source = i;
	}
	return source;
}

/* Makes ready to read a device's scans as they are wanted. */
static int
want(const struct unpack *unpack, const struct device_settings *made, struct part *part)
{
	const struct settings *wanted = unpack->reader->wanted;
	size_t d = 0;

	while (d < wanted->device_count &&
	       strcmp(wanted->devices[d].name, made->name) != 0)
		d++;
	if (d == wanted->device_count)
		return 0;
	part->wanted = &wanted->channels[wanted->devices[d].first_channel];
	part->sources =
	    calloc(wanted->devices[d].channel_count + 1, sizeof(*part->sources));
	part->scan = calloc(1, scan_bytes(wanted->devices[d].channel_count));
	if (part->sources == NULL || part->scan == NULL)
		return ERROR_MEMORY;
	part->scan->device = (uint32_t)d;
	part->scan->count = wanted->devices[d].channel_count;
	for (uint32_t i = 0; i < part->scan->count; i++)
		part->sources[i] =
		    unpack->reader->made == wanted
			? i
			: find_source(unpack->reader->made, made, &part->wanted[i]);
	return 0;
}

static int
open_part(struct unpack *unpack, size_t place, struct error *error)
{
	struct part *part = &unpack->parts[place];
	struct part_width width = unpack->widths[place];
	const struct device_settings *made =
	    &unpack->reader->made->devices[width.device];

	part->made = &unpack->reader->made->channels[made->first_channel];
	part->columns = calloc(width.width + 1, sizeof(*part->columns));
	if (part->columns == NULL || want(unpack, made, part) != 0)
		return error_set(error, ERROR_MEMORY, "out of memory");
	part->at = take_column(&unpack->rest);
	part->took = take_column(&unpack->rest);
	part->label = take_column(&unpack->rest);
	for (uint32_t i = 0; i < width.width; i++)
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
	if (version != PACK_VERSION)
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

static int
open_pack(
    struct unpack *unpack, const void *bytes, size_t byte_count, struct error *error)
{
	int rc = inflate_bytes(unpack, bytes, byte_count, error);

	if (rc != 0)
		return rc;
	unpack->scan_count = take_number(&unpack->rest);
	unpack->part_count = take_number(&unpack->rest);
	if (unpack->rest.bad || unpack->scan_count > PACK_SCANS_MAX ||
	    unpack->part_count > SETTINGS_DEVICES)
		return no_pack(error);
	for (size_t i = 0; i < unpack->part_count; i++) {
		uint64_t device = take_number(&unpack->rest);
		uint64_t width = take_number(&unpack->rest);

		if (unpack->rest.bad || device >= unpack->reader->made->device_count ||
		    width != unpack->reader->made->devices[device].channel_count)
			return error_set(error, ERROR_INVALID,
			    "the packed scans are of other devices");
		unpack->widths[i] =
		    (struct part_width){(uint32_t)device, (uint32_t)width};
	}
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
	int rc = 0;

	for (uint64_t i = 0; i < unpack->scan_count && rc == 0; i++) {
		uint64_t place = take_number(&unpack->order);

		if (unpack->order.bad || place >= unpack->part_count ||
		    !step_part(&unpack->parts[place], unpack->widths[place].width))
			return no_pack(error);
		if (unpack->parts[place].scan != NULL)
			rc = reader->take(reader->arg, unpack->parts[place].scan);
	}
	return rc;
}

int
pack_read(const void *bytes, size_t byte_count, const struct pack_reader *reader,
    struct error *error)
{
	struct unpack *unpack = calloc(1, sizeof(*unpack));
	int rc;

	if (unpack == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	unpack->reader = reader;
	rc = open_pack(unpack, bytes, byte_count, error);
	if (rc == 0)
		rc = give_scans(unpack, error);
	for (size_t i = 0; i < unpack->part_count && i < SETTINGS_DEVICES; i++) {
		free(unpack->parts[i].columns);
		free(unpack->parts[i].sources);
		free(unpack->parts[i].scan);
	}
	free(unpack->bytes);
	free(unpack);
	return rc;
}
