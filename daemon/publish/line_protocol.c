/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/line_protocol.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "conf/feature.h"
#include "daemon/base/utf8.h"

/* Bytes of the UTF-8 character at `s`, which is not empty; 0 when it is none. */
static size_t
character_length(const char *s)
{
	size_t left = strnlen(s, 4);

	for (size_t length = 1; length <= left; length++)
		if (utf8_is_valid(s, length))
			return length;
	return 0;
}

/* Whether a character stands for itself wherever it is. */
static bool
is_plain(unsigned char c)
{
	return c > ' ' && c < 0x7f && c != '\\' && c != '"' && c != ',' && c != '=';
}

/* The bytes at `value` that can stay as they are. */
static size_t
plain_length(const char *value)
{
	size_t length = 0;

	while (is_plain((unsigned char)value[length]))
		length++;
	if (length == 0 && (unsigned char)*value >= 0x80)
		length = character_length(value);
	return length;
}

/* Adds `value` with a backslash before each of the characters `escaped`. */
static void
add_escaped(struct text *text, const char *value, const char *escaped)
{
	while (*value != '\0') {
		size_t length = plain_length(value);
		if (length > 0) {
			text_add(text, value, length);
			value += length;
			continue;
		}
		unsigned char c = (unsigned char)*value++;
		if (c < ' ' || c == 0x7f)
			c = ' ';
		else if (c >= 0x80)
			c = '?';
		if (strchr(escaped, c) != NULL)
			text_add(text, "\\", 1);
		else if (c == '\\')
			c = '/';
		text_add(text, &(char){(char)c}, 1);
	}
}

static void
add_tag(struct text *text, const char *name, const char *value)
{
	text_add(text, ",", 1);
	text_puts(text, name);
	text_add(text, "=", 1);
	add_escaped(text, *value != '\0' ? value : "unknown", ", =");
}

static void
add_string(struct text *text, char separator, const char *name, const char *value)
{
	text_printf(text, "%c%s=\"", separator, name);
	add_escaped(text, value, "\"\\");
	text_puts(text, "\"");
}

static void
add_number(struct text *text, const char *name, double value)
{
	char number[32];

	if (!isfinite(value))
		return;
	text_from_number(value, number, sizeof(number));
	text_add(text, ",", 1);
	text_puts(text, name);
	text_add(text, "=", 1);
	text_puts(text, number);
}

/* See "Time" in the header.  Before 1970 and a microsecond: 0, no time. */
static int64_t
time_ns(struct wall at, int64_t number)
{
	return at.ns < 1000 ? 0 : at.ns - at.ns % 1000 + number % 1000;
}

static void
add_time(struct text *text, int64_t ns)
{
	text_printf(text, " %" PRId64 "\n", ns);
}

void
line_protocol_shot(struct text *text, const char *site, const struct ledger_shot *shot)
{
	int64_t ns = time_ns(shot->filed_at, shot->shot_no);
	if (ns == 0)
		return;
	text_puts(text, "shot");
	add_tag(text, "site", site);
	add_tag(text, "line", shot->line);
	add_tag(text, "recipe", shot->recipe);
	add_tag(text, "tool", shot->tool);
	add_tag(text, "material", shot->material);
	add_tag(text, "outcome", shot_outcome_text(shot->outcome));
	text_printf(text, " shot_no=%" PRId64 "i,change=%" PRId64 "i", shot->shot_no,
	    shot->change);
	add_string(text, ',', "lot", shot->lot);
	add_string(text, ',', "reason", shot->reason);
	if (shot->side[0] != '\0')
		add_string(text, ',', "side", shot->side);
	if (shot->set_points != 0)
		text_printf(text, ",set_points=\"%016" PRIx64 "\"", shot->set_points);
	if (shot->properties[0] != '\0')
		add_string(text, ',', "properties", shot->properties);
	for (int id = 0; id < FEATURE_COUNT; id++)
		add_number(text, feature_get(id)->name, shot->value[id]);
	add_time(text, ns);
}

void
line_protocol_channel(struct text *text, const char *site,
    const struct ledger_shot *shot, const struct ledger_channel *channel)
{
	const struct {
		const char *name;
		double value;
	} fields[] = {
	    {"min", channel->min},
	    {"mean", channel->mean},
	    {"max", channel->max},
	    {"sd", channel->sd},
	    {"last", channel->last},
	    {"coverage", channel->coverage},
	};
	enum { FIELDS = sizeof(fields) / sizeof(fields[0]) };
	char name[sizeof(channel->device) + sizeof(channel->channel)];
	int64_t ns = time_ns(shot->filed_at, shot->shot_no);
	int present = 0;

	for (int i = 0; i < FIELDS; i++)
		present += isfinite(fields[i].value) != 0;
	if (ns == 0 || present == 0)
		return;
	snprintf(name, sizeof(name), "%s.%s", channel->device, channel->channel);
	text_puts(text, "shot_channel");
	add_tag(text, "site", site);
	add_tag(text, "line", shot->line);
	add_tag(text, "recipe", shot->recipe);
	add_tag(text, "tool", shot->tool);
	add_tag(text, "channel", name);
	add_tag(text, "role", channel->role);
	text_printf(text, " change=%" PRId64 "i", shot->change);
	for (int i = 0; i < FIELDS; i++)
		add_number(text, fields[i].name, fields[i].value);
	add_time(text, ns);
}

void
line_protocol_event(
    struct text *text, const char *site, const struct ledger_event *event)
{
	int64_t ns = time_ns(event->at, event->change);
	if (ns == 0)
		return;
	text_puts(text, "event");
	add_tag(text, "site", site);
	add_tag(text, "line", event->line);
	add_tag(text, "kind", event->kind);
	add_string(text, ' ', "text", event->text);
	add_time(text, ns);
}

static bool
is_answering(const char *state)
{
	return strcmp(state, "ok") == 0 || strcmp(state, "in_part") == 0;
}

void
line_protocol_device(struct text *text, const char *site,
    const struct ledger_device *device, double answering)
{
	int64_t ns = time_ns(device->at, 0), requests = 0;

	if (ns == 0)
		return;
	for (int i = LEDGER_COUNT_GOOD; i < LEDGER_COUNTS; i++)
		requests += device->counts[i];
	text_puts(text, "device");
	add_tag(text, "site", site);
	add_tag(text, "line", device->line);
	add_tag(text, "device", device->device);
	text_printf(text, " requests=%" PRId64 "i", requests);
	for (int i = 0; i < LEDGER_COUNTS; i++)
		text_printf(text, ",%s=%" PRId64 "i",
		    ledger_count_name((enum ledger_count)i), device->counts[i]);
	if (is_answering(device->state))
		text_printf(text, ",bad_channels=%" PRId64 "i", device->bad_channels);
	add_number(text, "answering", answering);
	add_number(text, "late_p99_s", device->late_p99_s);
	add_number(text, "late_worst_s", device->late_worst_s);
	add_time(text, ns);
}
