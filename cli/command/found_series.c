/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/found_series.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

static bool
grow(struct found_series *series)
{
	size_t room = series->room ? series->room * 2 : 64;
	struct findings_shot *shots = reallocarray(series->shots, room, sizeof *shots);

	if (!shots)
		return false;
	series->shots = shots;
	struct found_series_labels *labels =
	    reallocarray(series->labels, room, sizeof *labels);
	if (!labels)
		return false;
	series->labels = labels;
	series->room = room;
	return true;
}

bool
found_series_add(struct found_series *series, const struct findings_shot *shot,
    const char *lot, const char *properties)
{
	if (series->count == FOUND_SHOTS_MOST ||
	    (series->count == series->room && !grow(series)))
		return false;
	struct found_series_labels *labels = &series->labels[series->count];
	series->shots[series->count++] = *shot;
	text_copy(labels->lot, sizeof labels->lot, lot);
	text_copy(labels->properties, sizeof labels->properties, properties);
	return true;
}

bool
found_series_add_shot(struct found_series *series, const struct ledger_shot *shot)
{
	struct findings_shot kept = {
	    .shot_no = shot->shot_no, .at = shot->filed_at, .usual = true};

	memcpy(kept.value, shot->value, sizeof kept.value);
	return found_series_add(series, &kept, shot->lot, shot->properties);
}

int
found_series_too_many(struct error *error)
{
	return error_set(error, ERROR_MEMORY,
	    "out of memory, or more than %d shots: say a shorter time",
	    FOUND_SHOTS_MOST);
}

static bool
add_from(struct found_series *series, const struct found_series *other, size_t i)
{
	return found_series_add(series, &other->shots[i], other->labels[i].lot,
	    other->labels[i].properties);
}

bool
found_series_prepend(struct found_series *series, const struct found_series *before)
{
	struct found_series whole = {.kind = series->kind};
	bool done = true;

	if (before->count == 0)
		return true;
	for (size_t i = before->count; done && i-- > 0;)
		done = add_from(&whole, before, i);
	done = done && found_series_append(&whole, series);
	if (done) {
		found_series_release(series);
		*series = whole;
	} else {
		found_series_release(&whole);
	}
	return done;
}

bool
found_series_append(struct found_series *series, const struct found_series *after)
{
	bool done = true;

	for (size_t i = 0; done && i < after->count; i++)
		done = add_from(series, after, i);
	return done;
}

void
found_series_join(struct found_series *series)
{
	for (size_t i = 0; i < series->count; i++)
		series->shots[i].lot = series->labels[i].lot;
}

void
found_series_release(struct found_series *series)
{
	free(series->shots);
	free(series->labels);
	*series = (struct found_series){0};
}
