/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/line_protocol.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "conf/feature.h"
#include "daemon/publish/line_text.h"

struct line_protocol_form
line_protocol_form(const char *site, enum store_kind kind)
{
	struct line_protocol_form form = {.site = site, .strings = true};

	switch (kind) {
	case STORE_INFLUXDB1:
	case STORE_INFLUXDB2:
		form.current = true;
		break;
	case STORE_VICTORIAMETRICS:
		form.strings = false;
		break;
	case STORE_INFLUXDB3:
	case STORE_KIND_COUNT:
		break;
	}
	return form;
}

/* See "Time" in the header; 0 before the first whole second of 1970: no time. */
static int64_t
second_ns(struct wall at)
{
	return at.ns < CLOCK_SECOND_NS ? 0 : at.ns - at.ns % CLOCK_SECOND_NS;
}

static int64_t
point_ns(struct wall at, int64_t number)
{
	int64_t ns = second_ns(at);

	return ns == 0 ? 0 : ns + number % 1000 * (CLOCK_SECOND_NS / 1000);
}

/* Microseconds from `second` on. */
static void
add_us(struct text *text, const char *name, struct wall at, int64_t second)
{
	if (at.ns != 0)
		line_text_whole(text, ',', name, (at.ns - second) / 1000);
}

/* --- a shot ---------------------------------------------------------------------- */

/* What the points of a shot, or of one of its channels, are found by. */
struct labels {
	const char *recipe, *tool, *material;
	enum shot_outcome outcome;
	int64_t revision;
};

static struct labels
labels_of(const struct ledger_shot *shot)
{
	return (struct labels){
	    shot->recipe, shot->tool, shot->material, shot->outcome, shot->revision};
}

static struct labels
labels_then(const struct ledger_superseded *earlier)
{
	return (struct labels){earlier->recipe, earlier->tool, earlier->material,
	    earlier->outcome, earlier->revision};
}

static void
begin_shot(
    struct text *text, const char *site, const char *line, const struct labels *labels)
{
	text_puts(text, "shot");
	line_text_tag(text, "site", site);
	line_text_tag(text, "line", line);
	line_text_tag(text, "recipe", labels->recipe);
	line_text_tag(text, "tool", labels->tool);
	line_text_tag(text, "material", labels->material);
	line_text_tag(text, "outcome", shot_outcome_text(labels->outcome));
	line_text_integer_tag(text, "revision", labels->revision);
}

static void
begin_channel(struct text *text, const char *site, const char *line,
    const struct labels *labels, const struct ledger_channel *channel)
{
	text_puts(text, "shot_channel");
	line_text_tag(text, "site", site);
	line_text_tag(text, "line", line);
	line_text_tag(text, "recipe", labels->recipe);
	line_text_tag(text, "tool", labels->tool);
	line_text_channel_tag(text, channel->device, channel->channel);
	line_text_tag(text, "role", channel->role);
	line_text_integer_tag(text, "revision", labels->revision);
}

/* What is known of a shot in words, as fields or as tags. */
static void
add_words(struct text *text, const struct ledger_shot *shot, const char *set_up,
    void (*add)(struct text *text, const char *name, const char *value))
{
	char set_points[17] = "";

	if (shot->set_points != 0)
		snprintf(
		    set_points, sizeof(set_points), "%016" PRIx64, shot->set_points);
	const struct {
		const char *name, *value;
	} words[] = {
	    {"lot", shot->lot},
	    {"reason", shot->reason},
	    {"side", shot->side},
	    {"set_points", set_points},
	    {"properties", shot->properties},
	    {"set_up", set_up},
	};
	for (size_t i = 0; i < sizeof(words) / sizeof(words[0]); i++)
		if (words[i].value[0] != '\0')
			add(text, words[i].name, words[i].value);
}

static void
add_field(struct text *text, const char *name, const char *value)
{
	line_text_string(text, ',', name, value);
}

void
line_protocol_shot(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const char *set_up)
{
	const struct labels labels = labels_of(shot);
	int64_t second = second_ns(shot->filed_at);

	if (second == 0)
		return;
	begin_shot(text, form->site, shot->line, &labels);
	line_text_integer(text, ' ', "shot_no", shot->shot_no);
	add_us(text, "filed_us", shot->filed_at, second);
	add_us(text, "loaded_us", shot->loaded_at, second);
	add_us(text, "heat_start_us", shot->heat_start_at, second);
	add_us(text, "heat_end_us", shot->heat_end_at, second);
	add_us(text, "form_start_us", shot->form_start_at, second);
	add_us(text, "form_end_us", shot->form_end_at, second);
	add_us(text, "closed_us", shot->closed_at, second);
	line_text_whole(text, ',', "flags", shot->flags);
	if (shot->cycle_count >= 0)
		line_text_whole(text, ',', "cycle_count", shot->cycle_count);
	line_text_number(text, ',', "uncertainty_s", shot->uncertainty_s);
	for (int id = 0; id < FEATURE_COUNT; id++)
		line_text_number(text, ',', feature_get(id)->name, shot->value[id]);
	if (form->strings)
		add_words(text, shot, set_up, add_field);
	if (form->current)
		text_puts(text, ",current=1");
	line_text_time(text, point_ns(shot->filed_at, shot->shot_no));
}

void
line_protocol_words(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const char *set_up)
{
	int64_t ns = point_ns(shot->filed_at, shot->shot_no);

	if (ns == 0 || form->strings)
		return;
	text_puts(text, "shot_words");
	line_text_tag(text, "site", form->site);
	line_text_tag(text, "line", shot->line);
	line_text_integer_tag(text, "revision", shot->revision);
	add_words(text, shot, set_up, line_text_tag);
	line_text_integer(text, ' ', "shot_no", shot->shot_no);
	line_text_time(text, ns);
}

void
line_protocol_absent(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot)
{
	int64_t ns = point_ns(shot->filed_at, shot->shot_no);

	for (int id = 0; id < FEATURE_COUNT && ns != 0; id++) {
		if (isfinite(shot->value[id]) || shot->absent[id] == ABSENT_NOT ||
		    shot->absent[id] == ABSENT_NOT_CONFIGURED)
			continue;
		text_puts(text, "shot_absent");
		line_text_tag(text, "site", form->site);
		line_text_tag(text, "line", shot->line);
		line_text_integer_tag(text, "revision", shot->revision);
		line_text_tag(text, "feature", feature_get(id)->name);
		line_text_tag(
		    text, "reason", absent_text((enum absent)shot->absent[id]));
		line_text_integer(text, ' ', "shot_no", shot->shot_no);
		line_text_time(text, ns);
	}
}

/* Whether it is known at all: one without any number has no point. */
static bool
is_known(const struct ledger_channel *channel)
{
	return isfinite(channel->min) || isfinite(channel->mean) ||
	       isfinite(channel->max) || isfinite(channel->sd) ||
	       isfinite(channel->last) || isfinite(channel->coverage);
}

void
line_protocol_channel(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const struct ledger_channel *channel)
{
	const struct labels labels = labels_of(shot);
	int64_t ns = point_ns(shot->filed_at, shot->shot_no);

	if (ns == 0 || !is_known(channel))
		return;
	begin_channel(text, form->site, shot->line, &labels, channel);
	line_text_integer(text, ' ', "shot_no", shot->shot_no);
	line_text_number(text, ',', "min", channel->min);
	line_text_number(text, ',', "mean", channel->mean);
	line_text_number(text, ',', "max", channel->max);
	line_text_number(text, ',', "sd", channel->sd);
	line_text_number(text, ',', "last", channel->last);
	line_text_number(text, ',', "coverage", channel->coverage);
	if (form->current)
		text_puts(text, ",current=1");
	line_text_time(text, ns);
}

static void
end_mark(struct text *text, const struct line_protocol_form *form, int64_t ns)
{
	text_puts(text, form->current ? " superseded=1,current=0" : " superseded=1");
	line_text_time(text, ns);
}

void
line_protocol_mark(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const struct ledger_superseded *earlier)
{
	const struct labels labels = labels_then(earlier);
	int64_t ns = point_ns(shot->filed_at, shot->shot_no);

	if (ns == 0)
		return;
	begin_shot(text, form->site, shot->line, &labels);
	end_mark(text, form, ns);
}

void
line_protocol_channel_mark(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const struct ledger_superseded *earlier,
    const struct ledger_channel *channel)
{
	const struct labels labels = labels_then(earlier);
	int64_t ns = point_ns(shot->filed_at, shot->shot_no);

	if (ns == 0)
		return;
	begin_channel(text, form->site, shot->line, &labels, channel);
	end_mark(text, form, ns);
}

/* --- all else -------------------------------------------------------------------- */

void
line_protocol_event(struct text *text, const struct line_protocol_form *form,
    const struct ledger_event *event)
{
	int64_t second = second_ns(event->at);

	if (second == 0)
		return;
	text_puts(text, "event");
	line_text_tag(text, "site", form->site);
	line_text_tag(text, "line", event->line);
	line_text_tag(text, "kind", event->kind);
	text_puts(text, " count=1");
	add_us(text, "at_us", event->at, second);
	if (form->strings)
		line_text_string(text, ',', "text", event->text);
	line_text_time(text, point_ns(event->at, event->change));
}

void
line_protocol_reading(struct text *text, const struct line_protocol_form *form,
    const char *line, struct wall at, const struct reading_channel *channel)
{
	int64_t ns = second_ns(at);

	if (ns == 0)
		return;
	text_puts(text, "reading");
	line_text_tag(text, "site", form->site);
	line_text_tag(text, "line", line);
	line_text_channel_tag(text, channel->device, channel->channel);
	line_text_tag(text, "role", channel->role);
	line_text_number(text, ' ', "quality", channel->quality);
	line_text_float(text, ',', "mean", channel->mean);
	line_text_float(text, ',', "last", channel->last);
	line_text_time(text, ns);
}

static bool
is_answering(const char *state)
{
	return strcmp(state, "ok") == 0 || strcmp(state, "in_part") == 0;
}

void
line_protocol_device(struct text *text, const struct line_protocol_form *form,
    const struct ledger_device *device, double answering)
{
	int64_t ns = second_ns(device->at), requests = 0;

	if (ns == 0)
		return;
	for (int i = LEDGER_COUNT_GOOD; i < LEDGER_COUNTS; i++)
		requests += device->counts[i];
	text_puts(text, "device");
	line_text_tag(text, "site", form->site);
	line_text_tag(text, "line", device->line);
	line_text_tag(text, "device", device->device);
	line_text_integer(text, ' ', "requests", requests);
	for (int i = 0; i < LEDGER_COUNTS; i++)
		line_text_integer(text, ',', ledger_count_name((enum ledger_count)i),
		    device->counts[i]);
	if (is_answering(device->state))
		line_text_integer(text, ',', "bad_channels", device->bad_channels);
	line_text_number(text, ',', "answering", answering);
	line_text_number(text, ',', "late_p99_s", device->late_p99_s);
	line_text_number(text, ',', "late_worst_s", device->late_worst_s);
	line_text_time(text, ns);
}

void
line_protocol_logger(struct text *text, const struct line_protocol_form *form,
    const struct ledger_logger *logger, const struct line_protocol_standing *standing)
{
	const struct {
		const char *name;
		int64_t value;
	} counts[] = {
	    {"polls", logger->polls},
	    {"failures", logger->failures},
	    {"late", logger->late},
	    {"queue", logger->queue},
	    {"queue_most", logger->queue_most},
	    {"dropped", logger->dropped},
	    {"waiting", logger->waiting},
	    {"lost", logger->lost},
	    {"filed", logger->filed},
	    {"clock_steps", logger->clock_steps},
	    {"memory_bytes", logger->memory_bytes},
	    {"ledger_bytes", logger->ledger_bytes},
	    {"free_bytes", logger->free_bytes},
	    {"backlog", standing->backlog},
	    {"refused", standing->refused},
	    {"lost_readings", standing->lost_readings},
	    {"delivering", standing->delivering},
	};
	int64_t ns = second_ns(logger->at);

	if (ns == 0)
		return;
	text_puts(text, "logger");
	line_text_tag(text, "site", form->site);
	line_text_tag(text, "host", logger->host);
	line_text_tag(text, "version", logger->version);
	line_text_number(text, ' ', "up_s",
	    (double)(logger->at.ns - logger->started.ns) / (double)CLOCK_SECOND_NS);
	for (size_t i = 0; i < sizeof(counts) / sizeof(counts[0]); i++)
		line_text_integer(text, ',', counts[i].name, counts[i].value);
	line_text_time(text, ns);
}

void
line_protocol_probe(
    struct text *text, const struct line_protocol_form *form, struct wall at)
{
	int64_t ns = second_ns(at);

	if (ns == 0)
		return;
	text_puts(text, "probe");
	line_text_tag(text, "site", form->site);
	text_puts(text, " ok=1");
	line_text_time(text, ns);
}
