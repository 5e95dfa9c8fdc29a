/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why channels have no value: each cause once, with the channels that it is of. */
#include "cli/command/check_live.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/page/page.h"
#include "daemon/base/text.h"

enum { NAMES_MOST = 400 }; /* bytes of names that are told */

/* Where the number of "zone_top_12" begins; NULL: it has none. */
static const char *
number_of(const char *name, int64_t *number)
{
	const char *end = strrchr(name, '_');

	return end && end > name && strspn(end + 1, "0123456789") == strlen(end + 1) &&
	               text_integer(end + 1, number)
	           ? end + 1
	           : NULL;
}

/* "tool_3" after "tool_2". */
static bool
is_next_name(const char *before, const char *name)
{
	int64_t first, second;
	const char *a = number_of(before, &first), *b = number_of(name, &second);

	return a && b && second == first + 1 && a - before == b - name &&
	       strncmp(before, name, (size_t)(a - before)) == 0;
}

/* "plc.tool 1-8" or "plc.tool_1": the channels `first` to `last` of the device. */
static void
add_range(const struct settings *settings, const struct device_settings *device,
    uint32_t first, uint32_t last, struct text *names)
{
	const char *from = settings->channels[device->first_channel + first].name;
	const char *to = settings->channels[device->first_channel + last].name;
	const char *comma = names->length ? ", " : "";
	int64_t number;

	if (names->length > NAMES_MOST) {
		if (strcmp(names->bytes + names->length - 4, " ...") != 0)
			text_puts(names, " ...");
	} else if (first == last) {
		text_printf(names, "%s%s.%s", comma, device->name, from);
	} else {
		const char *digits = number_of(from, &number);
		text_printf(names, "%s%s.%.*s %s-%s", comma, device->name,
		    (int)(digits - from) - 1, from, digits, number_of(to, &number));
	}
}

void
live_add_names(const struct settings *settings, const struct live_device *live,
    bool (*is)(const struct live_device *live, uint32_t i, uint32_t as), uint32_t as,
    struct text *names)
{
	const struct device_settings *device = &settings->devices[live->device];
	const struct channel_settings *channels =
	    &settings->channels[device->first_channel];

	for (uint32_t i = 0; i < live->plan->channel_count; i++) {
		uint32_t last = i;
		if (!is(live, i, as))
			continue;
		while (last + 1 < live->plan->channel_count && is(live, last + 1, as) &&
		       is_next_name(channels[last].name, channels[last + 1].name))
			last++;
		add_range(settings, device, i, last, names);
		i = last;
	}
}

/* Whether two channels have no value for the same cause. */
static bool
is_same(const struct live_device *live, uint32_t i, uint32_t as)
{
	const struct live_channel *one = &live->channels[i], *two = &live->channels[as];

	return one->reading.quality == two->reading.quality &&
	       strcmp(one->cause, two->cause) == 0;
}

static bool
is_first_of_cause(const struct live_device *live, uint32_t i)
{
	for (uint32_t before = 0; before < i; before++)
		if (is_same(live, before, i))
			return false;
	return true;
}

void
live_put_causes(
    struct page *page, const struct settings *settings, const struct live_device *live)
{
	for (uint32_t i = 0; i < live->plan->channel_count; i++) {
		const struct live_channel *channel = &live->channels[i];
		struct text names;
		char quality[32];
		if (channel->reading.quality == QUALITY_GOOD ||
		    !is_first_of_cause(live, i))
			continue;
		text_init(&names, 1 << 16);
		live_add_names(settings, live, is_same, i, &names);
		shown_words(
		    quality_text(channel->reading.quality), quality, sizeof quality);
		page_note(page, NULL, TONE_BAD, "%s (%s): %s",
		    names.length ? names.bytes : "", quality, channel->cause);
		text_release(&names);
	}
}
