/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/limit.h"

#include <time.h>

struct limit
limit_from_now(double seconds)
{
	return (struct limit){
	    .start = clock_mono(),
	    .ns = (int64_t)(seconds * (double)CLOCK_SECOND_NS),
	};
}

int64_t
limit_left_ns(const struct limit *limit)
{
	int64_t left_ns;

	if (limit->ns <= 0)
		return 0;
	left_ns = limit->ns - clock_system_ns(clock_mono().ns - limit->start.ns);
	return left_ns > 0 ? left_ns : 0;
}

int
limit_left_ms(const struct limit *limit)
{
	return (int)((limit_left_ns(limit) + 999999) / 1000000);
}

bool
limit_is_over(const struct limit *limit)
{
	return limit_left_ns(limit) == 0;
}

void
limit_wait(const struct limit *limit)
{
	int64_t left_ns;

	while ((left_ns = limit_left_ns(limit)) > 0) {
		struct timespec left = {
		    .tv_sec = left_ns / CLOCK_SECOND_NS,
		    .tv_nsec = left_ns % CLOCK_SECOND_NS,
		};

		clock_nanosleep(CLOCK_MONOTONIC, 0, &left, NULL);
	}
}

int
limit_to_ms(double seconds)
{
	return (int)(seconds * 1000 + 0.5);
}
