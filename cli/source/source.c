/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/source.h"

#include <assert.h>

#include "cli/source/source_inside.h"
#include "daemon/base/error.h"

void
source_close(struct source *source)
{
	if (source != NULL)
		source->ops->close(source);
}

const char *
source_name(const struct source *source)
{
	return source->name;
}

size_t
source_twice(const struct source *source)
{
	return source->twice;
}

struct ledger_read *
source_ledger(const struct source *source)
{
	return source->ledger;
}

int
source_read_lines(struct source *source, int (*take)(void *arg, const char *line),
    void *arg, struct error *error)
{
	return source->ops->lines(source, take, arg, error);
}

int
source_read_shots(struct source *source, const struct ledger_filter *filter,
    bool reasons, int (*take)(void *arg, const struct ledger_shot *shot), void *arg,
    struct error *error)
{
	return source->ops->shots(source, filter, reasons, take, arg, error);
}

int
source_read_events(struct source *source, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *event), void *arg,
    struct error *error)
{
	return source->ops->events(source, filter, take, arg, error);
}

int
source_read_shifts(struct source *source, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *shift), void *arg,
    struct error *error)
{
	assert(source->ops->shifts != NULL);
	return source->ops->shifts(source, filter, take, arg, error);
}

int
source_read_channels(struct source *source, const struct ledger_shot *shot,
    int (*take)(void *arg, const struct ledger_channel *channel), void *arg,
    struct error *error)
{
	return source->ops->channels(source, shot, take, arg, error);
}

int
source_setup_hash(
    struct source *source, int64_t setup, char hash[static 17], struct error *error)
{
	return source->ops->setup_hash(source, setup, hash, error);
}
