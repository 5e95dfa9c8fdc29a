/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/batch.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"

void
batch_init(struct batch *batch, size_t bytes_max)
{
	memset(batch, 0, sizeof(*batch));
	text_init(&batch->text, bytes_max);
}

void
batch_release(struct batch *batch)
{
	text_release(&batch->text);
	free(batch->starts);
	free(batch->changes);
}

void
batch_clear(struct batch *batch)
{
	text_clear(&batch->text);
	batch->count = batch->first = batch->span = 0;
	batch->change = batch->pieces = batch->lost = batch->dropped = 0;
	batch->refusals = 0;
}

static size_t
at_most(const struct batch *batch, size_t span)
{
	size_t left = batch->count - batch->first;
	size_t most =
	    batch->span_most > 0 && batch->span_most < left ? batch->span_most : left;
	return span < most ? span : most;
}

/* Room for one more line and the end behind it. */
static int
grow(struct batch *batch)
{
	if (batch->count + 1 < batch->room)
		return 0;
	size_t room = batch->room == 0 ? 256 : 2 * batch->room;
	size_t *starts = realloc(batch->starts, room * sizeof(*starts));
	if (starts != NULL)
		batch->starts = starts;
	int64_t *changes = realloc(batch->changes, room * sizeof(*changes));
	if (changes != NULL)
		batch->changes = changes;
	if (starts == NULL || changes == NULL)
		return ERROR_MEMORY;
	batch->room = room;
	return 0;
}

int
batch_add(struct batch *batch, const struct text *lines, int64_t change)
{
	size_t start = batch->text.length;

	text_add(&batch->text, lines->bytes != NULL ? lines->bytes : "", lines->length);
	if (lines->failed || batch->text.failed)
		return ERROR_MEMORY;
	while (start < batch->text.length) {
		if (grow(batch) != 0)
			return ERROR_MEMORY;
		const char *line = batch->text.bytes + start;
		const char *end = memchr(line, '\n', batch->text.length - start);
		batch->starts[batch->count] = start;
		batch->changes[batch->count++] = change;
		start =
		    end == NULL ? batch->text.length : start + (size_t)(end - line) + 1;
		batch->starts[batch->count] = start;
	}
	batch->change = change;
	batch->pieces++;
	batch->span = at_most(batch, batch->count);
	return 0;
}

bool
batch_settled(const struct batch *batch)
{
	return batch->first == batch->count;
}

const char *
batch_span(const struct batch *batch, size_t *length)
{
	size_t start = batch->starts[batch->first];

	*length = batch->starts[batch->first + batch->span] - start;
	return batch->text.bytes + start;
}

/* Goes on behind the span, with the next one `span` lines long if there are as many. */
static void
go_on(struct batch *batch, size_t span)
{
	batch->first += batch->span;
	batch->span = at_most(batch, span);
}

void
batch_take(struct batch *batch)
{
	go_on(batch, 2 * batch->span);
}

void
batch_skip(struct batch *batch)
{
	go_on(batch, 1);
}

int64_t
batch_drop(struct batch *batch)
{
	int64_t count = 0;

	for (size_t i = batch->first; i < batch->first + batch->span; i++) {
		if (batch->changes[i] == batch->dropped)
			continue;
		batch->dropped = batch->changes[i];
		count++;
	}
	go_on(batch, 2 * batch->span);
	return count;
}

bool
batch_halve(struct batch *batch)
{
	if (batch->span <= 1)
		return false;
	batch->span /= 2;
	return true;
}
