/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/pack_wanted.h"

#include <math.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>

#include "conf/raw.h"
#include "conf/register.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/shot/pack.h"

/* --- which channel is which ----------------------------------------------------------- */

/* The device of the same name in other settings, or -1. */
static int64_t
find_device(const struct settings *made, uint32_t device, const struct settings *wanted)
{
	for (size_t i = 0; i < wanted->device_count; i++)
		if (strcmp(wanted->devices[i].name, made->devices[device].name) == 0)
			return (int64_t)i;
	return -1;
}

/* Where the registers of a wanted channel stand among those of `device`: under its own name
 * if there is more than one such channel. */
static int64_t
find_source(const struct settings *made, const struct device_settings *device,
    const struct channel_settings *wanted)
{
	int64_t source = PACK_NO_SOURCE;

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
		if (source == PACK_NO_SOURCE)
			source = i;
	}
	return source;
}

int64_t
pack_source(
    const struct settings *made, const struct settings *wanted, uint32_t channel)
{
	const struct channel_settings *its = &wanted->channels[channel];
	int64_t device = find_device(wanted, its->device, made), source;

	if (device < 0)
		return -1;
	source = find_source(made, &made->devices[device], its);
	return source == PACK_NO_SOURCE
	           ? -1
	           : (int64_t)made->devices[device].first_channel + source;
}

/* By channel of the wanted device.  The caller frees; NULL when memory is short. */
static int64_t *
find_sources(const struct settings *made, uint32_t device,
    const struct settings *wanted, const struct device_settings *to)
{
	int64_t *sources = calloc(to->channel_count + 1, sizeof(*sources));

	for (uint32_t i = 0; sources != NULL && i < to->channel_count; i++)
		sources[i] = made == wanted
		                 ? i
		                 : find_source(made, &made->devices[device],
				       &wanted->channels[to->first_channel + i]);
	return sources;
}

/* The place of the part that has the channel of that device; part_count: none has. */
static size_t
find_part(
    const struct pack_part *parts, size_t part_count, uint32_t device, int64_t channel)
{
	size_t place = 0;

	for (; place < part_count; place++)
		if (parts[place].device == device && channel >= parts[place].first &&
		    channel - parts[place].first < parts[place].width)
			break;
	return place;
}

/* --- runs ----------------------------------------------------------------------------- */

/* Adds the channel to the run before it, or begins another. */
static void
add_channel(struct pack_wanted *part, uint32_t channel)
{
	struct pack_run *last =
	    part->run_count > 0 ? &part->runs[part->run_count - 1] : NULL;

	if (last != NULL && last->first + last->count == channel)
		last->count++;
	else
		part->runs[part->run_count++] = (struct pack_run){channel, 1};
}

static void
find_runs(struct pack_wanted *part, const int64_t *sources, uint32_t count,
    const struct pack_part *parts, size_t part_count, size_t place)
{
	uint32_t first = 0;
	size_t owner;

	while (first < count && sources[first] == PACK_NO_SOURCE)
		first++;
	if (first == count)
		return;
	owner = find_part(parts, part_count, parts[place].device, sources[first]);
	for (uint32_t i = 0; i < count; i++) {
		if (sources[i] != PACK_NO_SOURCE)
			owner = find_part(
			    parts, part_count, parts[place].device, sources[i]);
		if (owner == place)
			add_channel(part, i);
	}
}

static uint32_t
widest_run(const struct pack_wanted *part)
{
	uint32_t widest = 0;

	for (size_t i = 0; i < part->run_count; i++)
		if (part->runs[i].count > widest)
			widest = part->runs[i].count;
	return widest;
}

/* Makes room for the scans; the sources become those of `whole` in this part. */
static int
make_room(struct pack_wanted *part, const struct pack_part *of, int64_t device,
    const int64_t *sources)
{
	const struct pack_run *last = &part->runs[part->run_count - 1];
	uint32_t first = part->runs[0].first;
	uint32_t count = last->first + last->count - first;

	part->whole = calloc(1, scan_bytes(count));
	part->scan = calloc(1, scan_bytes(widest_run(part)));
	part->sources = calloc(count, sizeof(*part->sources));
	if (part->whole == NULL || part->scan == NULL || part->sources == NULL)
		return ERROR_MEMORY;
	part->whole->device = part->scan->device = (uint32_t)device;
	part->whole->first = first;
	part->whole->count = count;
	for (uint32_t i = 0; i < count; i++) {
		int64_t source = sources[first + i] - (int64_t)of->first;
		bool here = sources[first + i] != PACK_NO_SOURCE && source >= 0 &&
		            source < of->width;

		part->sources[i] = here ? source : PACK_NO_SOURCE;
	}
	return 0;
}

int
pack_wanted_init(struct pack_wanted *part, const struct settings *made,
    const struct settings *wanted, const struct pack_part *parts, size_t part_count,
    size_t place)
{
	int64_t device = find_device(made, parts[place].device, wanted), *sources;
	const struct device_settings *to;
	int rc = 0;

	*part = (struct pack_wanted){.run_count = 0};
	if (device < 0)
		return 0;
	to = &wanted->devices[device];
	sources = find_sources(made, parts[place].device, wanted, to);
	part->runs = calloc(to->channel_count + 1, sizeof(*part->runs));
	if (sources == NULL || part->runs == NULL)
		rc = ERROR_MEMORY;
	else
		find_runs(part, sources, to->channel_count, parts, part_count, place);
	if (rc == 0 && part->run_count > 0)
		rc = make_room(part, &parts[place], device, sources);
	free(sources);
	return rc;
}

void
pack_wanted_release(struct pack_wanted *part)
{
	free(part->runs);
	free(part->whole);
	free(part->scan);
	free(part->sources);
}

/* --- giving --------------------------------------------------------------------------- */

static bool
is_here(const struct pack_wanted *part, int64_t i)
{
	return i >= 0 && i < part->whole->count && part->sources[i] != PACK_NO_SOURCE;
}

/* Channels with a fault bit are as that says: here, or where it was read last.  One that was
 * never read is good and 0 in `held`, and says nothing. */
static void
apply_faults(struct pack_wanted *part, const struct channel_settings *channels,
    int64_t first, const struct reading *held)
{
	struct reading *readings = part->whole->readings;

	for (uint32_t i = 0; i < part->whole->count; i++) {
		int32_t bit = channels[first + i].fault_channel;

		if (bit < 0 || !is_here(part, i))
			continue;
		raw_apply_fault(&readings[i],
		    is_here(part, bit - first) ? &readings[bit - first] : &held[bit]);
	}
}

/* What is stale may have been read and not kept: what was known before it still holds. */
static void
note_held(const struct pack_wanted *part, int64_t first, struct reading *held)
{
	for (uint32_t i = 0; i < part->whole->count; i++)
		if (is_here(part, i) &&
		    part->whole->readings[i].quality != QUALITY_STALE)
			held[first + i] = part->whole->readings[i];
}

static void
fill_unread(struct pack_wanted *part)
{
	for (uint32_t i = 0; i < part->whole->count; i++)
		if (!is_here(part, i))
			part->whole->readings[i] =
			    (struct reading){.value = NAN, .quality = QUALITY_STALE};
}

int
pack_wanted_give(struct pack_wanted *part, const struct settings *wanted,
    struct reading *held, int (*take)(void *arg, const struct scan *scan), void *arg)
{
	struct scan *whole = part->whole, *scan = part->scan;
	int64_t first = wanted->devices[whole->device].first_channel + whole->first;
	int rc = 0;

	fill_unread(part);
	note_held(part, first, held);
	apply_faults(part, wanted->channels, first, held);
	scan->at = whole->at;
	scan->sent = whole->sent;
	scan->wall = whole->wall;
	for (size_t i = 0; i < part->run_count && rc == 0; i++) {
		const struct pack_run *run = &part->runs[i];

		scan->first = run->first;
		scan->count = run->count;
		memcpy(scan->readings, whole->readings + (run->first - whole->first),
		    run->count * sizeof(scan->readings[0]));
		rc = take(arg, scan);
	}
	return rc;
}
