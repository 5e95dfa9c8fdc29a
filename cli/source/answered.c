/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/answered.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/source/point.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

void
answered_init(struct answered *answered)
{
	*answered = (struct answered){0};
}

void
answered_release(struct answered *answered)
{
	harvest_release(&answered->harvest);
	free(answered->events);
	free(answered->channels);
	free(answered->lines);
	answered_init(answered);
}

/* Room for one more of `size` bytes in `list`; a zeroed new one behind it, or NULL. */
static void *
add(void **list, size_t *count, size_t size, int *code)
{
	*code = *count < ANSWERED_MOST ? ERROR_MEMORY : ERROR_FULL;
	if (*code == ERROR_FULL)
		return NULL;
	/* a power of two of them: grown when that is full */
	if ((*count & (*count - 1)) == 0) {
		void *grown = reallocarray(*list, *count != 0 ? *count * 2 : 1, size);
		if (grown == NULL)
			return NULL;
		*list = grown;
	}
	void *added = (char *)*list + (*count)++ * size;
	memset(added, 0, size);
	return added;
}

struct answered_event *
answered_add_event(struct answered *answered, int *code)
{
	void *list = answered->events;
	struct answered_event *event =
	    add(&list, &answered->event_count, sizeof *event, code);

	answered->events = list;
	return event;
}

void
answered_set_event(struct answered_event *event, int64_t point_ns, double at_us)
{
	event->point_ns = point_ns;
	event->event.at.ns = point_time(point_ns, at_us).ns;
}

int
answered_add_shift(struct answered *answered, int64_t point_ns, const char *line,
    const char *shift, const char *revision)
{
	int code = 0;
	struct answered_event *event = answered_add_event(answered, &code);

	if (event == NULL)
		return code;
	answered_set_event(event, point_ns, 0);
	text_copy(event->event.line, LEDGER_NAME, point_tag(line));
	text_copy(event->event.kind, LEDGER_NAME, shift);
	text_copy(event->event.text, sizeof event->event.text, revision);
	return 0;
}

/* Parts "device.channel" at its first point. */
static void
name_channel(struct ledger_channel *channel, const char *name)
{
	size_t device = strcspn(name, ".");

	text_copy(channel->device, sizeof channel->device, name);
	if (device < sizeof channel->device)
		channel->device[device] = '\0';
	if (name[device] == '.')
		text_copy(channel->channel, sizeof channel->channel, name + device + 1);
}

static int
compare_channels(const void *a, const void *b)
{
	const struct ledger_channel *one = a, *two = b;
	int order = strcmp(one->device, two->device);

	return order != 0 ? order : strcmp(one->channel, two->channel);
}

struct ledger_channel *
answered_channel(struct answered *answered, const char *name, int *code)
{
	struct ledger_channel wanted = {.min = NAN,
	    .mean = NAN,
	    .max = NAN,
	    .sd = NAN,
	    .last = NAN,
	    .coverage = NAN};
	void *list = answered->channels;

	name_channel(&wanted, name);
	for (size_t i = answered->channel_count; i-- > 0;)
		if (compare_channels(&answered->channels[i], &wanted) == 0)
			return &answered->channels[i];
	struct ledger_channel *channel =
	    add(&list, &answered->channel_count, sizeof *channel, code);
	answered->channels = list;
	if (channel != NULL)
		*channel = wanted;
	return channel;
}

int
answered_add_line(struct answered *answered, const char *line)
{
	void *list = answered->lines;
	int code;

	for (size_t i = 0; i < answered->line_count; i++)
		if (strcmp(answered->lines[i], line) == 0)
			return 0;
	char *name = add(&list, &answered->line_count, sizeof *answered->lines, &code);
	answered->lines = list;
	if (name == NULL)
		return code;
	text_copy(name, LEDGER_NAME, line);
	return 0;
}

static int
compare_events(const void *a, const void *b)
{
	const struct answered_event *one = a, *two = b;
	int64_t first = one->event.at.ns, second = two->event.at.ns;

	if (first == second) {
		first = one->point_ns;
		second = two->point_ns;
	}
	return (first > second) - (first < second);
}

static int
compare_lines(const void *a, const void *b)
{
	return strcmp(a, b);
}

void
answered_sort(struct answered *answered)
{
	if (answered->event_count > 0)
		qsort(answered->events, answered->event_count, sizeof *answered->events,
		    compare_events);
	if (answered->channel_count > 0)
		qsort(answered->channels, answered->channel_count,
		    sizeof *answered->channels, compare_channels);
	if (answered->line_count > 0)
		qsort(answered->lines, answered->line_count, sizeof *answered->lines,
		    compare_lines);
}

void
answered_set_channel(struct ledger_channel *channel, const char *field, double value)
{
	const struct {
		const char *name;
		double *to;
	} fields[] = {
	    {"min", &channel->min},
	    {"mean", &channel->mean},
	    {"max", &channel->max},
	    {"sd", &channel->sd},
	    {"last", &channel->last},
	    {"coverage", &channel->coverage},
	};

	for (size_t i = 0; i < sizeof fields / sizeof fields[0]; i++)
		if (strcmp(fields[i].name, field) == 0)
			*fields[i].to = value;
}

int
answered_failed(int code, struct error *error)
{
	return code == ERROR_FULL
	           ? error_set(error, ERROR_FULL, "its answer is too large")
	           : error_set(error, ERROR_MEMORY, "out of memory");
}
