/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The causes as data: which signs each one has.  To add a cause is to add a row.
 * Constant data; any thread.
 */
#ifndef CLI_FINDINGS_PATTERN_H
#define CLI_FINDINGS_PATTERN_H

#include "cli/findings/signal.h"

/* Signals that depend on which pyrometer is meant; the families of signal.h name the
 * member at the subject's position. */
enum relative_signal {
	PATTERN_PAIR =
	    SIGNAL_COUNT,   /* the pyrometer at this position on the other side */
	PATTERN_RATE_HERE,  /* the heating rate of its side */
	PATTERN_RATE_THERE, /* of the other */
	PATTERN_OTHERS,     /* all other pyrometers, or circuits */
	PATTERN_ANY,        /* each pyrometer against its peers */
};

enum part {
	PART_NONE, /* ends the list */
	PART_KEY,  /* it must have left the usual: the search begins here */
	PART_MUST,
	PART_STILL,   /* it must not have moved */
	PART_NOT,     /* it must not have moved this way (way 0: either) */
	PART_CONFIRM, /* it makes it surer */
	PART_MAY,     /* it may move too: explained by this cause */
	PART_WITHOUT, /* the row is for lines that do not measure this */
};

struct sign {
	enum part part;
	int signal;
	int way;       /* 1 up, -1 down, 0 either */
	double beyond; /* at least so far (the signal's unit); 0: its usual least */
	double within; /* at most so far; 0: no bound */
	double
	    share; /* what is less than this share of the key's deviation is no move */
};

enum pattern_subject {
	PATTERN_LINE,
	PATTERN_TOP,
	PATTERN_BOTTOM,
	PATTERN_SURFACE,
	PATTERN_CIRCUIT
};

enum { PATTERN_SIGNS = 16 };

struct pattern {
	enum finding_cause cause;
	enum pattern_subject subject;
	bool both_ways;         /* the mirror image counts as well, with `up` false */
	bool lot;               /* it can only be where a lot changes */
	enum finding_sure most; /* it is never surer than that */
	struct sign signs[PATTERN_SIGNS];
};

const struct pattern *pattern_get(size_t i); /* NULL past the last */

#endif
