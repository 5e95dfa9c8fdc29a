/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/lines.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/allowance.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/run/filing.h"
#include "daemon/shot/tracker.h"

/* Kinds of events that a line tells; what a bit that blinks for weeks would flood. */
enum { KINDS = 32, EVENT_TEXT = 256 };

struct kind {
	char name[32]; /* "": none yet */
	struct allowance day;
};

struct one_line {
	struct lines *lines;
	uint32_t number; /* in the settings */
	struct tracker *tracker;
	bool moved;  /* who stands where is not filed yet */
	bool untold; /* an event was only counted */
	struct kind kinds[KINDS];
};

struct lines {
	const struct settings *settings;
	struct filing *filing;
	struct lines_hook hook;
	bool replayed;
	struct wall now; /* of the last scan */
	struct mono mono;
	struct wall last_closed;
	size_t count;
	struct one_line *list;
	unsigned char saved[TRACKER_SAVED_MAX];
};

static void
take_shot(void *arg, struct shot *shot)
{
	struct one_line *line = arg;

	filing_put_shot(line->lines->filing, line->number, shot);
}

static void
put_event(struct one_line *line, struct wall at, const char *kind, const char *text)
{
	const struct lines *lines = line->lines;

	if (!lines->replayed)
		log_info(
		    "line '%s': %s", lines->settings->lines[line->number].name, text);
	filing_put_event(lines->filing, line->number, at, kind, text);
}

/* NULL: there are more kinds than are counted. */
static struct kind *
find_kind(struct one_line *line, const char *name)
{
	for (int i = 0; i < KINDS; i++) {
		struct kind *kind = &line->kinds[i];

		if (kind->name[0] == '\0')
			snprintf(kind->name, sizeof(kind->name), "%s", name);
		if (strcmp(kind->name, name) == 0)
			return kind;
	}
	return NULL;
}

static void
take_event(void *arg, struct wall at, const char *name, const char *text)
{
	struct one_line *line = arg;
	struct kind *kind = find_kind(line, name);
	char more[EVENT_TEXT];

	switch (kind == NULL
		    ? ALLOWANCE_TELL
		    : allowance_take(&kind->day, line->lines->mono, LINES_DAY)) {
	case ALLOWANCE_TELL:
		put_event(line, at, name, text);
		break;
	case ALLOWANCE_LAST:
		snprintf(more, sizeof(more),
		    "%.200s (that is %d in a day: more are counted only)", text,
		    LINES_DAY);
		put_event(line, at, name, more);
		break;
	case ALLOWANCE_COUNT:
		line->untold = true;
		break;
	}
}

/* What was only counted, once its day is over. */
static void
tell_counted(struct one_line *line)
{
	char text[EVENT_TEXT];

	line->untold = false;
	for (int i = 0; i < KINDS; i++) {
		struct kind *kind = &line->kinds[i];
		bool open = kind->day.untold > 0;
		int64_t count = allowance_untold(&kind->day, line->lines->mono);

		line->untold |= open && count == 0;
		if (count == 0)
			continue;
		snprintf(text, sizeof(text),
		    "%" PRId64
		    " more of this kind came in the day before and were only "
		    "counted",
		    count);
		put_event(line, line->lines->now, kind->name, text);
	}
}

static void
take_move(void *arg)
{
	struct one_line *line = arg;

	line->moved = true;
}

static void
take_heat(void *arg)
{
	const struct one_line *line = arg;
	const struct lines *lines = line->lines;

	if (lines->hook.heat != NULL && !lines->replayed)
		lines->hook.heat(lines->hook.arg, line->number);
}

static void
take_question(
    void *arg, int recipe, struct wall at, struct circumstances *circumstances)
{
	struct one_line *line = arg;

	filing_circumstances(
	    line->lines->filing, line->number, recipe, at, circumstances);
}

/* Files who stands where; behind the shots that were given out before. */
static void
file_standing(struct one_line *line)
{
	struct lines *lines = line->lines;
	size_t count = tracker_save(line->tracker, lines->saved, sizeof(lines->saved));

	if (count > 0)
		filing_put_standing(
		    lines->filing, line->number, lines->now, lines->saved, count);
	line->moved = false;
}

/* The ledger was opened late, and there were shots before. */
static void
number_on(void *arg, uint32_t line, int64_t last_shot_no)
{
	struct lines *lines = arg;

	tracker_number_on(lines->list[line].tracker, last_shot_no);
	file_standing(&lines->list[line]);
}

static int
start_line(struct lines *lines, uint32_t number, struct error *error)
{
	struct one_line *line = &lines->list[number];
	struct tracker_sink sink = {.shot = take_shot,
	    .event = take_event,
	    .moved = take_move,
	    .circumstances = take_question,
	    .heat = take_heat,
	    .arg = line};
	struct tracker_start start;
	int rc = filing_start(lines->filing, number, &start, error);

	if (rc != 0)
		return rc;
	*line = (struct one_line){.lines = lines, .number = number};
	line->tracker = tracker_new(lines->settings, number, start, sink);
	if (line->tracker == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	lines->count++;
	if (start.last_closed_at.ns > lines->last_closed.ns)
		lines->last_closed = start.last_closed_at;
	return 0;
}

struct lines *
lines_start(const struct settings *settings, struct filing *filing, bool replayed,
    struct error *error)
{
	struct lines *lines = calloc(1, sizeof(*lines));

	if (lines != NULL)
		lines->list = calloc(settings->line_count, sizeof(*lines->list));
	if (lines == NULL || lines->list == NULL) {
		free(lines);
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	lines->settings = settings;
	lines->filing = filing;
	lines->replayed = replayed;
	for (size_t i = 0; i < settings->line_count; i++)
		if (start_line(lines, (uint32_t)i, error) != 0) {
			lines_free(lines);
			return NULL;
		}
	filing_set_hook(filing, (struct filing_hook){number_on, lines});
	return lines;
}

void
lines_free(struct lines *lines)
{
	if (lines == NULL)
		return;
	filing_set_hook(lines->filing, (struct filing_hook){NULL, NULL});
	for (size_t i = 0; i < lines->count; i++)
		tracker_free(lines->list[i].tracker);
	free(lines->list);
	free(lines);
}

void
lines_set_hook(struct lines *lines, struct lines_hook hook)
{
	lines->hook = hook;
}

struct wall
lines_last_closed(const struct lines *lines)
{
	return lines->last_closed;
}

void
lines_scan(struct lines *lines, const struct scan *scan)
{
	struct one_line *line =
	    &lines->list[lines->settings->devices[scan->device].line];

	lines->now = scan->wall;
	lines->mono = scan->at;
	if (line->untold)
		tell_counted(line);
	tracker_scan(line->tracker, scan);
	if (line->moved && !lines->replayed)
		file_standing(line);
}

void
lines_adopt(struct lines *lines, const struct settings *settings)
{
	lines->settings = settings;
	for (size_t i = 0; i < lines->count; i++)
		tracker_adopt(lines->list[i].tracker, settings);
}

void
lines_event(struct lines *lines, struct wall at, const char *kind, const char *text)
{
	for (size_t i = 0; i < lines->count; i++)
		take_event(&lines->list[i], at, kind, text);
}

void
lines_finish(struct lines *lines)
{
	for (size_t i = 0; i < lines->count; i++) {
		tracker_finish(lines->list[i].tracker);
		file_standing(&lines->list[i]);
	}
}
