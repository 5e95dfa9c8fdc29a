/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/live.h"

#include <stdbool.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/publish/reading_pack.h"
#include "daemon/run/curves.h"
#include "daemon/run/filing.h"

/* The stores with one length of interval. */
struct feed {
	struct live *live;
	double period_s; /* as the settings tell it */
	struct curves *curves;
};

struct live {
	const struct settings *settings;
	struct filing *filing;
	struct feed *feeds; /* room for one a store */
	size_t count;
};

/* Both are read from the same kind of setting: what is told alike is equal. */
static bool
same_period(double a_s, double b_s)
{
	return !(a_s < b_s) && !(a_s > b_s);
}

/* Packed once, for each store of the feed. */
static void
take_interval(void *arg, uint32_t line, struct wall end,
    const struct reading_channel *channels, size_t count)
{
	const struct feed *feed = arg;
	const struct settings *settings = feed->live->settings;
	unsigned char *bytes;
	size_t byte_count;
	struct error error;

	if (reading_pack(channels, count, &bytes, &byte_count, &error) != 0) {
		log_debug("live readings are left out: %s", error.text);
		return;
	}
	for (size_t i = 0; i < settings->store_count; i++)
		if (same_period(settings->stores[i].reading_period_s, feed->period_s))
			filing_put_reading(
			    feed->live->filing, i, line, end, bytes, byte_count);
	free(bytes);
}

static struct feed *
find_feed(struct feed *feeds, size_t count, double period_s)
{
	for (size_t i = 0; i < count; i++)
		if (same_period(feeds[i].period_s, period_s))
			return &feeds[i];
	return NULL;
}

/* Where an earlier feed has the same interval, its curves go over to the new one. */
static struct curves *
make_curves(struct live *live, struct feed *feed, struct feed *earlier)
{
	const struct curves_sink sink = {take_interval, feed};

	if (earlier != NULL && earlier->curves != NULL) {
		struct curves *curves = earlier->curves;

		earlier->curves = NULL;
		curves_adopt(curves, live->settings, sink);
		return curves;
	}
	return curves_new(live->settings, feed->period_s, sink);
}

static void
free_feeds(struct feed *feeds, size_t count)
{
	for (size_t i = 0; i < count; i++)
		curves_free(feeds[i].curves);
	free(feeds);
}

/* For the settings that `live` has by now; takes over from the feeds before. */
static int
make_feeds(struct live *live)
{
	const struct settings *settings = live->settings;
	struct feed *before = live->feeds;
	size_t before_count = live->count;
	int rc = 0;

	live->count = 0;
	live->feeds = calloc(settings->store_count + 1, sizeof(*live->feeds));
	for (size_t i = 0; live->feeds != NULL && i < settings->store_count; i++) {
		double period_s = settings->stores[i].reading_period_s;
		struct feed *feed = &live->feeds[live->count];

		if (!(period_s > 0) ||
		    find_feed(live->feeds, live->count, period_s) != NULL)
			continue;
		*feed = (struct feed){.live = live, .period_s = period_s};
		feed->curves =
		    make_curves(live, feed, find_feed(before, before_count, period_s));
		if (feed->curves == NULL)
			rc = ERROR_MEMORY;
		else
			live->count++;
	}
	free_feeds(before, before_count);
	return live->feeds != NULL ? rc : ERROR_MEMORY;
}

struct live *
live_new(const struct settings *settings, struct filing *filing)
{
	struct live *live = calloc(1, sizeof(*live));

	if (live == NULL)
		return NULL;
	live->settings = settings;
	live->filing = filing;
	if (make_feeds(live) == 0)
		return live;
	live_free(live);
	return NULL;
}

void
live_free(struct live *live)
{
	if (live == NULL)
		return;
	free_feeds(live->feeds, live->count);
	free(live);
}

void
live_scan(struct live *live, const struct scan *scan)
{
	for (size_t i = 0; i < live->count; i++) {
		curves_scan(live->feeds[i].curves, scan);
		curves_pass(live->feeds[i].curves, scan->wall);
	}
}

void
live_pass(struct live *live, struct wall now)
{
	for (size_t i = 0; i < live->count; i++)
		curves_pass(live->feeds[i].curves, now);
}

void
live_adopt(struct live *live, const struct settings *settings)
{
	live->settings = settings;
	if (make_feeds(live) != 0)
		log_error("out of memory: live readings are left out until a restart");
}
