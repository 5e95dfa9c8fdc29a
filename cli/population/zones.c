/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/zones.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_read.h"

/* --- which shots -------------------------------------------------------------------------- */

struct ids {
	const struct zones_asked *asked;
	int64_t *list;
	size_t count;
};

static int
compare_numbers(const void *a, const void *b)
{
	const int64_t *x = a, *y = b;

	return (*x > *y) - (*x < *y);
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct ids *ids = arg;
	const struct zones_asked *asked = ids->asked;

	if (ids->count < asked->count &&
	    bsearch(&shot->shot_no, asked->numbers, asked->count, sizeof(int64_t),
		compare_numbers))
		ids->list[ids->count++] = shot->id;
	return 0;
}

/* --- their channels ------------------------------------------------------------------------ */

struct adding {
	struct zones *zones;
	const struct settings *settings;
	size_t *counts; /* by channel */
	size_t next;    /* channels come in the order of the settings, mostly */
	bool any;
};

static bool
is_channel(
    const struct settings *settings, size_t i, const struct ledger_channel *channel)
{
	const struct channel_settings *there = &settings->channels[i];

	return strcmp(there->name, channel->channel) == 0 &&
	       strcmp(settings->devices[there->device].name, channel->device) == 0;
}

/* The channel's place; settings->channel_count: there is none of that name. */
static size_t
find_channel(struct adding *adding, const struct ledger_channel *channel)
{
	const struct settings *settings = adding->settings;

	for (size_t k = 0; k < settings->channel_count; k++) {
		size_t i = (adding->next + k) % settings->channel_count;
		if (is_channel(settings, i, channel)) {
			adding->next = i + 1;
			return i;
		}
	}
	return settings->channel_count;
}

static int
take_channel(void *arg, const struct ledger_channel *channel)
{
	struct adding *adding = arg;

	if ((strcmp(channel->role, role_text(ROLE_ZONE_TOP)) != 0 &&
		strcmp(channel->role, role_text(ROLE_ZONE_BOTTOM)) != 0) ||
	    !isfinite(channel->mean))
		return 0;
	size_t i = find_channel(adding, channel);
	if (i == adding->settings->channel_count)
		return 0;
	double *output = &adding->zones->output[i];
	*output = adding->counts[i]++ == 0
	              ? channel->mean
	              : *output + (channel->mean - *output) / (double)adding->counts[i];
	adding->any = true;
	return 0;
}

static int
read_channels(struct zones *zones, const struct settings *settings,
    struct ledger_read *ledger, const struct ids *ids, struct error *error)
{
	struct adding adding = {zones, settings,
	    calloc(settings->channel_count + 1, sizeof *adding.counts), 0, false};
	size_t looked = ids->count < ZONES_SHOTS ? ids->count : ZONES_SHOTS;
	int code = 0;

	if (!adding.counts)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < looked && code == 0; i++) {
		adding.any = false;
		code = ledger_read_channels(ledger, ids->list[i * ids->count / looked],
		    take_channel, &adding, error);
		zones->shots += adding.any;
	}
	free(adding.counts);
	return code;
}

int
zones_read(struct zones *zones, const struct settings *settings,
    struct ledger_read *ledger, const struct zones_asked *asked, struct error *error)
{
	struct ids ids = {
	    .asked = asked, .list = calloc(asked->count + 1, sizeof *ids.list)};
	const struct ledger_filter filter = {
	    .line = asked->line,
	    .from = asked->from,
	    .to = asked->to,
	    .by_time = true,
	    .features = &(int){0}, /* none of them */
	};

	*zones = (struct zones){
	    .output = calloc(settings->channel_count + 1, sizeof *zones->output)};
	if (!zones->output || !ids.list) {
		free(ids.list);
		return error_set(error, ERROR_MEMORY, "out of memory");
	}
	for (size_t i = 0; i < settings->channel_count; i++)
		zones->output[i] = NAN;
	int code = ledger_read_shots(ledger, &filter, false, take_shot, &ids, error);
	if (code == 0)
		code = read_channels(zones, settings, ledger, &ids, error);
	free(ids.list);
	return code;
}

void
zones_release(struct zones *zones)
{
	free(zones->output);
	*zones = (struct zones){0};
}
