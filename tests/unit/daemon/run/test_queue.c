/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <pthread.h>
#include <stdlib.h>

#include "daemon/base/scan.h"
#include "daemon/run/queue.h"

enum { WIDTH = 3, WRITERS = 4, EACH = 5000 };

/* A scan that carries `number` in its readings. */
static void
put(struct queue *queue, uint32_t device, int64_t number)
{
	struct scan *scan = calloc(1, scan_bytes(WIDTH));

	scan->device = device;
	scan->at.ns = number;
	scan->count = WIDTH;
	for (int i = 0; i < WIDTH; i++)
		scan->readings[i].value = (double)number;
	queue_put(queue, scan);
	free(scan);
}

static void
scans_come_out_in_the_order_they_went_in(void **state)
{
	struct queue *queue = queue_new(8, WIDTH);
	int closed;

	(void)state;
	for (int64_t n = 0; n < 100; n++) {
		put(queue, 1, n);
		put(queue, 1, n + 1000);
		assert_int_equal(queue_take(queue, 0, &closed)->at.ns, n);
		assert_int_equal(queue_take(queue, 0, &closed)->at.ns, n + 1000);
	}
	assert_null(queue_take(queue, 1, &closed));
	assert_false(closed);
	queue_free(queue);
}

static void
a_full_queue_drops_the_new_scan_and_counts_it(void **state)
{
	struct queue *queue = queue_new(4, WIDTH);
	int closed;

	(void)state;
	for (int64_t n = 0; n < 6; n++)
		put(queue, 1, n);
	assert_int_equal(queue_status(queue).waiting, 4);
	assert_int_equal(queue_status(queue).dropped, 2);
	for (int64_t n = 0; n < 4; n++)
		assert_int_equal(queue_take(queue, 0, &closed)->at.ns, n);
	assert_int_equal(queue_status(queue).most, 4);
	queue_free(queue);
}

static void
a_closed_queue_gives_out_what_is_in_it_and_takes_no_more(void **state)
{
	struct queue *queue = queue_new(4, WIDTH);
	int closed;

	(void)state;
	put(queue, 1, 7);
	queue_close(queue);
	put(queue, 1, 8);
	assert_int_equal(queue_take(queue, 1000, &closed)->at.ns, 7);
	assert_false(closed);
	assert_null(queue_take(queue, 1000, &closed));
	assert_true(closed);
	assert_int_equal(queue_status(queue).dropped, 0);
	queue_free(queue);
}

struct writer {
	struct queue *queue;
	uint32_t device;
};

static void *
write_many(void *arg)
{
	struct writer *writer = arg;

	for (int64_t n = 1; n <= EACH; n++)
		put(writer->queue, writer->device, n);
	return NULL;
}

static void
many_writers_lose_nothing_and_keep_their_order(void **state)
{
	struct queue *queue = queue_new((size_t)WRITERS * EACH, WIDTH);
	struct writer writers[WRITERS];
	pthread_t threads[WRITERS];
	int64_t last[WRITERS] = {0};
	int closed;

	(void)state;
	for (uint32_t i = 0; i < WRITERS; i++) {
		writers[i] = (struct writer){queue, i};
		pthread_create(&threads[i], NULL, write_many, &writers[i]);
	}
	for (int n = 0; n < WRITERS * EACH; n++) {
		const struct scan *scan = queue_take(queue, 5000, &closed);

		assert_non_null(scan);
		assert_int_equal(scan->at.ns, last[scan->device] + 1);
		assert_true(scan->readings[WIDTH - 1].value <= (double)scan->at.ns &&
			    scan->readings[WIDTH - 1].value >= (double)scan->at.ns);
		last[scan->device] = scan->at.ns;
	}
	for (int i = 0; i < WRITERS; i++)
		pthread_join(threads[i], NULL);
	queue_free(queue);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(scans_come_out_in_the_order_they_went_in),
	    cmocka_unit_test(a_full_queue_drops_the_new_scan_and_counts_it),
	    cmocka_unit_test(a_closed_queue_gives_out_what_is_in_it_and_takes_no_more),
	    cmocka_unit_test(many_writers_lose_nothing_and_keep_their_order),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
