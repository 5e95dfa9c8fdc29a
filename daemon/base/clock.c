/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/base/clock.h"

#include "daemon/base/error.h"

#include <assert.h>
#include <errno.h>
#include <float.h>
#include <math.h>
#include <poll.h>
#include <stdbool.h>
#include <time.h>

/* A product of nanoseconds and a rate keeps each nanosecond. */
_Static_assert(LDBL_MANT_DIG >= 64, "long double must hold an int64_t");

static const double rate_min = 0.1, rate_max = 10000;

/* No sum of two times below this overflows; 146 years. */
static const int64_t limit_ns = INT64_MAX / 2;

/* Written before the other threads start, then only read. */
static struct {
	bool on;
	double rate;
	int64_t origin_ns; /* system's monotonic time */
	int64_t start_ns;  /* wall time shown then */
} run = {.rate = 1};

static int64_t
system_ns(clockid_t id)
{
	struct timespec now;
	int result = clock_gettime(id, &now);

	assert(result == 0);
	(void)result;
	return now.tv_sec * CLOCK_SECOND_NS + now.tv_nsec;
}

/* To the nearest nanosecond below, kept within the limit. */
static int64_t
scale(int64_t ns, long double factor)
{
	long double scaled = floorl((long double)ns * factor);

	if (scaled >= (long double)limit_ns)
		return limit_ns;
	if (scaled <= -(long double)limit_ns)
		return -limit_ns;
	return (int64_t)scaled;
}

int
clock_run_at(double rate, struct wall start, int64_t origin_ns, struct error *error)
{
	int64_t mono_ns = system_ns(CLOCK_MONOTONIC);
	int64_t wall_ns = system_ns(CLOCK_REALTIME);

	if (!(rate >= rate_min && rate <= rate_max))
		return error_set(error, ERROR_INVALID,
		    "the clock cannot run at a rate of '%g'; it must be %g..%g", rate,
		    rate_min, rate_max);
	if (start.ns < 0 || start.ns > limit_ns)
		return error_set(error, ERROR_INVALID,
		    "the clock cannot start there; it must be after 1970 and before "
		    "2116");
	if (origin_ns < 0 || origin_ns > limit_ns)
		return error_set(error, ERROR_INVALID,
		    "'%lld' is no monotonic time for the clock's origin",
		    (long long)origin_ns);
	if (origin_ns == 0)
		origin_ns = mono_ns;
	run.on = true;
	run.rate = rate;
	run.origin_ns = origin_ns;
	run.start_ns = start.ns ? start.ns : wall_ns - (mono_ns - origin_ns);
	return 0;
}

int64_t
clock_origin_ns(void)
{
	return run.on ? run.origin_ns : 0;
}

double
clock_rate(void)
{
	return run.rate;
}

void
clock_both(struct mono *mono, struct wall *wall)
{
	int64_t since_ns;

	mono->ns = system_ns(CLOCK_MONOTONIC);
	if (!run.on) {
		wall->ns = system_ns(CLOCK_REALTIME);
		return;
	}
	since_ns = scale(mono->ns - run.origin_ns, run.rate);
	mono->ns = run.origin_ns + since_ns;
	wall->ns = run.start_ns + since_ns;
}

struct mono
clock_mono(void)
{
	struct mono mono;
	struct wall wall;

	clock_both(&mono, &wall);
	return mono;
}

struct wall
clock_wall(void)
{
	struct mono mono;
	struct wall wall;

	clock_both(&mono, &wall);
	return wall;
}

int64_t
clock_system_ns(int64_t clock_ns)
{
	if (clock_ns <= 0)
		return 0;
	if (!run.on)
		return clock_ns;
	/* Rounded up, so that whoever sleeps as long does not wake too early. */
	return scale(clock_ns, 1 / (long double)run.rate) + 1;
}

int
clock_sleep_until(struct mono deadline, int wake_fd)
{
	struct pollfd wake = {.fd = wake_fd, .events = POLLIN};

	for (;;) {
		int64_t left_ns = clock_system_ns(deadline.ns - clock_mono().ns);
		struct timespec left = {
		    .tv_sec = left_ns / CLOCK_SECOND_NS,
		    .tv_nsec = left_ns % CLOCK_SECOND_NS,
		};
		int ready = ppoll(&wake, 1, &left, NULL);

		assert(!(ready > 0 && (wake.revents & POLLNVAL)));
		if (ready > 0)
			return 1;
		if (ready == 0 && clock_mono().ns >= deadline.ns)
			return 0;
		assert(ready == 0 || errno == EINTR || errno == ENOMEM);
	}
}
