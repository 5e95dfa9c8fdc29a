/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/gathered.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/source/point.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

void
gathered_init(struct gathered *gathered)
{
	*gathered = (struct gathered){0};
}

void
gathered_release(struct gathered *gathered)
{
	harvest_release(&gathered->harvest);
	free(gathered->events);
	free(gathered->channels);
	free(gathered->lines);
	gathered_init(gathered);
}

/* Room for one more of `size` bytes in `list`; a zeroed new one behind it, or NULL. */
static void *
add(void **list, size_t *count, size_t size, int *code)
{
	*code = *count < GATHERED_MOST ? ERROR_MEMORY : ERROR_FULL;
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

struct gathered_event *
gathered_add_event(struct gathered *gathered, int *code)
{
	void *list = gathered->events;
	struct gathered_event *event =
	    add(&list, &gathered->event_count, sizeof *event, code);

	gathered->events = list;
	return event;
}

void
gathered_set_event(struct gathered_event *event, int64_t point_ns, double at_us)
{
	event->point_ns = point_ns;
	event->event.at.ns = point_time(point_ns, at_us).ns;
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
gathered_channel(struct gathered *gathered, const char *name, int *code)
{
	struct ledger_channel wanted = {.min = NAN,
	    .mean = NAN,
	    .max = NAN,
	    .sd = NAN,
	    .last = NAN,
	    .coverage = NAN};
	void *list = gathered->channels;

	name_channel(&wanted, name);
	for (size_t i = gathered->channel_count; i-- > 0;)
		if (compare_channels(&gathered->channels[i], &wanted) == 0)
			return &gathered->channels[i];
	struct ledger_channel *channel =
	    add(&list, &gathered->channel_count, sizeof *channel, code);
	gathered->channels = list;
	if (channel != NULL)
		*channel = wanted;
	return channel;
}

int
gathered_add_line(struct gathered *gathered, const char *line)
{
	void *list = gathered->lines;
	int code;

	for (size_t i = 0; i < gathered->line_count; i++)
		if (strcmp(gathered->lines[i], line) == 0)
			return 0;
	char *name = add(&list, &gathered->line_count, sizeof *gathered->lines, &code);
	gathered->lines = list;
	if (name == NULL)
		return code;
	text_copy(name, LEDGER_NAME, line);
	return 0;
}

static int
compare_events(const void *a, const void *b)
{
	const struct gathered_event *one = a, *two = b;
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
gathered_sort(struct gathered *gathered)
{
	if (gathered->event_count > 0)
		qsort(gathered->events, gathered->event_count, sizeof *gathered->events,
		    compare_events);
	if (gathered->channel_count > 0)
		qsort(gathered->channels, gathered->channel_count,
		    sizeof *gathered->channels, compare_channels);
	if (gathered->line_count > 0)
		qsort(gathered->lines, gathered->line_count, sizeof *gathered->lines,
		    compare_lines);
}

void
gathered_set_channel(struct ledger_channel *channel, const char *field, double value)
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
gathered_failed(int code, struct error *error)
{
	return code == ERROR_FULL
	           ? error_set(error, ERROR_FULL, "its answer is too large")
	           : error_set(error, ERROR_MEMORY, "out of memory");
}
