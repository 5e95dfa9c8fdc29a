/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/waiting.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/shot/shot.h"

struct pending *
pending_new(enum waiting_kind kind, uint32_t line, struct wall at, const void *bytes,
    size_t byte_count)
{
	struct pending *pending = calloc(1, sizeof(*pending));

	if (pending == NULL)
		return NULL;
	pending->kind = kind;
	pending->line = line;
	pending->at = at;
	if (bytes == NULL)
		return pending;
	pending->bytes = malloc(byte_count + 1);
	if (pending->bytes == NULL) {
		free(pending);
		return NULL;
	}
	memcpy(pending->bytes, bytes, byte_count);
	pending->byte_count = byte_count;
	return pending;
}

void
pending_free(struct pending *pending)
{
	shot_free(pending->shot);
	free(pending->bytes);
	free(pending);
}

void
waiting_init(struct waiting *waiting)
{
	*waiting = (struct waiting){0};
	pthread_mutex_init(&waiting->lock, NULL);
	for (int i = 0; i < WAITING_KINDS; i++)
		waiting->rows[i].last = &waiting->rows[i].first;
}

void
waiting_release(struct waiting *waiting)
{
	for (int i = 0; i < WAITING_KINDS; i++)
		waiting_clear(waiting, (enum waiting_kind)i);
	pthread_mutex_destroy(&waiting->lock);
}

/* Takes the one behind `link` out of its row. */
static struct pending *
unhang(struct waiting_row *row, struct pending **link)
{
	struct pending *pending = *link;

	*link = pending->next;
	if (pending->next == NULL)
		row->last = link;
	row->count--;
	return pending;
}

/* The one of the same line, out of its row; NULL when there is none. */
static struct pending *
unhang_same_line(struct waiting_row *row, uint32_t line)
{
	struct pending **link = &row->first;

	while (*link != NULL && (*link)->line != line)
		link = &(*link)->next;
	return *link != NULL ? unhang(row, link) : NULL;
}

bool
waiting_put(struct waiting *waiting, struct pending *pending, size_t bound)
{
	struct waiting_row *row = &waiting->rows[pending->kind];
	struct pending *replaced = NULL;
	bool fits;

	pthread_mutex_lock(&waiting->lock);
	if (pending->kind == WAITING_STANDING)
		replaced = unhang_same_line(row, pending->line);
	fits = row->count < bound;
	if (fits) {
		*row->last = pending;
		row->last = &pending->next;
		row->count++;
	}
	pthread_mutex_unlock(&waiting->lock);
	if (replaced != NULL)
		pending_free(replaced);
	return fits;
}

struct pending *
waiting_first(struct waiting *waiting, enum waiting_kind kind)
{
	struct pending *first;

	pthread_mutex_lock(&waiting->lock);
	first = waiting->rows[kind].first;
	pthread_mutex_unlock(&waiting->lock);
	return first;
}

void
waiting_drop(struct waiting *waiting, enum waiting_kind kind)
{
	struct waiting_row *row = &waiting->rows[kind];
	struct pending *first;

	pthread_mutex_lock(&waiting->lock);
	first = unhang(row, &row->first);
	pthread_mutex_unlock(&waiting->lock);
	pending_free(first);
}

size_t
waiting_clear(struct waiting *waiting, enum waiting_kind kind)
{
	size_t count = 0;

	while (waiting_first(waiting, kind) != NULL) {
		waiting_drop(waiting, kind);
		count++;
	}
	return count;
}

size_t
waiting_count(struct waiting *waiting, enum waiting_kind kind)
{
	size_t count;

	pthread_mutex_lock(&waiting->lock);
	count = waiting->rows[kind].count;
	pthread_mutex_unlock(&waiting->lock);
	return count;
}
