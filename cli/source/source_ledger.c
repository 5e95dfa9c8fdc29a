/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/source.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/source/source_inside.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static void
close_ledger(struct source *source)
{
	free(source);
}

/* Names of lines, each once. */
struct names {
	char (*list)[LEDGER_NAME];
	size_t count;
	bool failed;
};

static int
take_name(void *arg, const struct ledger_shot *shot)
{
	struct names *names = arg;

	for (size_t i = 0; i < names->count; i++)
		if (strcmp(names->list[i], shot->line) == 0)
			return 0;
	char(*list)[LEDGER_NAME] =
	    reallocarray(names->list, names->count + 1, sizeof *list);
	if (list == NULL) {
		names->failed = true;
		return 1;
	}
	names->list = list;
	text_copy(list[names->count++], LEDGER_NAME, shot->line);
	return 0;
}

static int
compare_names(const void *a, const void *b)
{
	return strcmp(a, b);
}

static int
read_lines(struct source *source, int (*take)(void *arg, const char *line), void *arg,
    struct error *error)
{
	const struct ledger_filter filter = {
	    .by_time = true, .values_only = true, .features = &(int){0}};
	struct names names = {0};
	int code =
	    ledger_read_shots(source->ledger, &filter, false, take_name, &names, error);

	if (code == 0 && names.failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	if (code == 0 && names.count > 0)
		qsort(names.list, names.count, sizeof *names.list, compare_names);
	for (size_t i = 0; code == 0 && i < names.count; i++)
		if (take(arg, names.list[i]) != 0)
			break;
	free(names.list);
	return code;
}

static int
read_shots(struct source *source, const struct ledger_filter *filter, bool reasons,
    int (*take)(void *arg, const struct ledger_shot *shot), void *arg,
    struct error *error)
{
	return ledger_read_shots(source->ledger, filter, reasons, take, arg, error);
}

static int
read_events(struct source *source, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *event), void *arg,
    struct error *error)
{
	return ledger_read_events(source->ledger, filter, take, arg, error);
}

static int
read_channels(struct source *source, const struct ledger_shot *shot,
    int (*take)(void *arg, const struct ledger_channel *channel), void *arg,
    struct error *error)
{
	return ledger_read_channels(source->ledger, shot->id, take, arg, error);
}

static int
read_setup_hash(
    struct source *source, int64_t setup, char hash[static 17], struct error *error)
{
	return ledger_read_setup_hash(source->ledger, setup, hash, error);
}

static const struct source_ops ledger_ops = {
    .close = close_ledger,
    .lines = read_lines,
    .shots = read_shots,
    .events = read_events,
    .channels = read_channels,
    .setup_hash = read_setup_hash,
};

struct source *
source_of_ledger(struct ledger_read *ledger, const char *path, struct error *error)
{
	struct source *source = calloc(1, sizeof *source);

	if (source == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	source->ops = &ledger_ops;
	source->ledger = ledger;
	snprintf(source->name, sizeof source->name, "ledger %s", path);
	return source;
}
