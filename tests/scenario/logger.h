/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Plays a line to the tracker: polls it as a bus would, loses answers, is killed and
 * begins again, and hands all that comes out to the judge.
 */
#ifndef TESTS_SCENARIO_LOGGER_H
#define TESTS_SCENARIO_LOGGER_H

#include "tests/scenario/judge.h"

struct scenario {
	const char *kind;
	uint64_t seed;
	int sheets;      /* to be judged, about */
	int odds;        /* how many of a hundred sheets get something odd */
	bool bus;        /* whether the bus is odd, too */
	bool restart;    /* whether the logger is killed and started again */
	bool one_device; /* whose channels are read in three groups */
	int64_t
	    swap; /* the tool bears the mark of another sheet as this one is formed; 0: never */
	int tell; /* so many of the things that are wrong are printed */
};

void scenario_play(const struct scenario *scenario, struct verdicts *verdicts);

#endif
