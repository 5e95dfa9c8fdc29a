/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/queue.h"

#include <pthread.h>
#include <stdbool.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "daemon/base/scan.h"

struct queue {
	pthread_mutex_t lock; /* guards everything below */
	pthread_cond_t filled;
	unsigned char *slots;
	struct scan *taken; /* the one lent out */
	size_t slot_bytes, room, start, count, most;
	uint32_t width;
	int64_t dropped;
	bool closed;
};

struct queue *
queue_new(size_t slots, uint32_t width)
{
	struct queue *queue = calloc(1, sizeof(*queue));
	pthread_condattr_t attributes;

	if (queue == NULL)
		return NULL;
	queue->slot_bytes = (scan_bytes(width) + 15) / 16 * 16;
	queue->width = width;
	queue->room = slots;
	queue->slots = calloc(slots, queue->slot_bytes);
	queue->taken = calloc(1, queue->slot_bytes);
	if (queue->slots == NULL || queue->taken == NULL) {
		free(queue->slots);
		free(queue->taken);
		free(queue);
		return NULL;
	}
	pthread_mutex_init(&queue->lock, NULL);
	pthread_condattr_init(&attributes);
	pthread_condattr_setclock(&attributes, CLOCK_MONOTONIC);
	pthread_cond_init(&queue->filled, &attributes);
	pthread_condattr_destroy(&attributes);
	return queue;
}

void
queue_free(struct queue *queue)
{
	if (queue == NULL)
		return;
	pthread_cond_destroy(&queue->filled);
	pthread_mutex_destroy(&queue->lock);
	free(queue->slots);
	free(queue->taken);
	free(queue);
}

void
queue_put(struct queue *queue, const struct scan *scan)
{
	pthread_mutex_lock(&queue->lock);
	if (queue->closed || scan->count > queue->width ||
	    queue->count == queue->room) {
		queue->dropped += !queue->closed;
	} else {
		size_t slot = (queue->start + queue->count) % queue->room;

		memcpy(queue->slots + slot * queue->slot_bytes, scan,
		    scan_bytes(scan->count));
		queue->count++;
		if (queue->count > queue->most)
			queue->most = queue->count;
		pthread_cond_signal(&queue->filled);
	}
	pthread_mutex_unlock(&queue->lock);
}

const struct scan *
queue_take(struct queue *queue, int wait_ms, int *closed)
{
	const struct scan *scan = NULL;
	struct timespec until;
	int rc = 0;

	clock_gettime(CLOCK_MONOTONIC, &until);
	until.tv_nsec += (long)(wait_ms % 1000) * 1000000L;
	until.tv_sec += wait_ms / 1000 + until.tv_nsec / 1000000000L;
	until.tv_nsec %= 1000000000L;
	pthread_mutex_lock(&queue->lock);
	while (queue->count == 0 && !queue->closed && rc == 0)
		rc = pthread_cond_timedwait(&queue->filled, &queue->lock, &until);
	if (queue->count > 0) {
		memcpy(queue->taken, queue->slots + queue->start * queue->slot_bytes,
		    queue->slot_bytes);
		queue->start = (queue->start + 1) % queue->room;
		queue->count--;
		scan = queue->taken;
	}
	*closed = queue->closed && scan == NULL;
	pthread_mutex_unlock(&queue->lock);
	return scan;
}

void
queue_close(struct queue *queue)
{
	pthread_mutex_lock(&queue->lock);
	queue->closed = true;
	pthread_cond_signal(&queue->filled);
	pthread_mutex_unlock(&queue->lock);
}

struct queue_status
queue_status(struct queue *queue)
{
	struct queue_status status;

	pthread_mutex_lock(&queue->lock);
	status = (struct queue_status){
	    .waiting = queue->count, .most = queue->most, .dropped = queue->dropped};
	pthread_mutex_unlock(&queue->lock);
	return status;
}
