/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/lines.h"

#include <stdint.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/run/filing.h"
#include "daemon/shot/tracker.h"

struct one_line {
	struct lines *lines;
	uint32_t number; /* in the settings */
	struct tracker *tracker;
	bool moved; /* who stands where is not filed yet */
};

struct lines {
	const struct settings *settings;
	struct filing *filing;
	struct lines_hook hook;
	bool replayed;
	struct wall now; /* of the last scan */
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
take_event(void *arg, struct wall at, const char *kind, const char *text)
{
	struct one_line *line = arg;
	const struct lines *lines = line->lines;

	if (!lines->replayed)
		log_info(
		    "line '%s': %s", lines->settings->lines[line->number].name, text);
	filing_put_event(lines->filing, line->number, at, kind, text);
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
