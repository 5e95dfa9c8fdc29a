/* SPDX-License-Identifier: GPL-3.0-or-later */
/* For tests with short time-outs: whether this machine itself stood still, so that what came
 * too late then is not held against the code.  A thread that sleeps for a moment again and
 * again sees it. */
#ifndef TESTS_UNIT_DAEMON_FIELDBUS_STALL_H
#define TESTS_UNIT_DAEMON_FIELDBUS_STALL_H

#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdint.h>
#include <time.h>

struct stall {
	int64_t least_ns;            /* a nap that lasts this much longer is a stall */
	_Atomic int64_t awake, last; /* when it woke last; when it last was stalled */
	atomic_bool over;
	pthread_t thread;
};

static inline int64_t
stall_now_ns(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec * INT64_C(1000000000) + now.tv_nsec;
}

static inline void *
stall_watch(void *arg)
{
	struct stall *stall = arg;
	const struct timespec nap = {.tv_nsec = 1000000};

	while (!stall->over) {
		nanosleep(&nap, NULL);
		int64_t now = stall_now_ns();
		if (now - stall->awake > stall->least_ns + nap.tv_nsec)
			stall->last = now;
		stall->awake = now;
	}
	return NULL;
}

static inline void
stall_start(struct stall *stall, int64_t least_ns)
{
	*stall = (struct stall){.least_ns = least_ns, .awake = stall_now_ns()};
	pthread_create(&stall->thread, NULL, stall_watch, stall);
}

static inline void
stall_stop(struct stall *stall)
{
	stall->over = true;
	pthread_join(stall->thread, NULL);
}

/* Whether it stood still within the last `within_ns`, or does now. */
static inline bool
stall_was(const struct stall *stall, int64_t within_ns)
{
	int64_t now = stall_now_ns();

	return now - stall->last < within_ns || now - stall->awake > stall->least_ns;
}

#endif
