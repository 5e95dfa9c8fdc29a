/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The signals: what is watched of a shot, made of its features so that a fault moves few
 * of them and a healthy day none.  A table says how each is made and which circumstances
 * it follows; to add one is to add a row.
 *
 * Positions: a pyrometer is side * FEATURE_SURFACES_MAX + position - 1, a circuit (and
 * the tool sensor beside it) position - 1.  Pure; any thread.
 */
#ifndef CLI_FINDINGS_SIGNAL_H
#define CLI_FINDINGS_SIGNAL_H

#include "cli/findings/findings.h"

enum {
	SIGNAL_SURFACES = 2 * FEATURE_SURFACES_MAX,
	SIGNAL_CIRCUITS = FEATURE_CIRCUITS_MAX
};

enum signal {
	SIGNAL_SAG,         /* time to the sag, as the start and the mains have it */
	SIGNAL_SAG_PLAIN,   /* the same, whatever the start was */
	SIGNAL_EXIT,        /* the sheet's surface at heat end */
	SIGNAL_EXIT_TOP,    /* its upper face */
	SIGNAL_EXIT_BOTTOM, /* its lower face */
	SIGNAL_RATE_TOP,    /* heating rate, as start and mains have it */
	SIGNAL_RATE_BOTTOM,
	SIGNAL_METER,         /* meter over estimate */
	SIGNAL_METER_BY_RATE, /* the same, against what the sheets felt */
	SIGNAL_STACK,
	SIGNAL_CORE,
	SIGNAL_ENERGY,
	SIGNAL_SATURATED,
	SIGNAL_SUPPLY,
	SIGNAL_TOOL, /* above the supply, the middle one of all sensors */
	SIGNAL_RISE, /* the middle one of all circuits */
	SIGNAL_FLOW,
	SIGNAL_BALANCE,
	SIGNAL_ALONE,
	/* one a position, against the middle of its kind */
	SIGNAL_EXIT_OWN = SIGNAL_ALONE,
	SIGNAL_TOOL_OWN = SIGNAL_EXIT_OWN + SIGNAL_SURFACES,
	SIGNAL_RISE_OWN = SIGNAL_TOOL_OWN + SIGNAL_CIRCUITS,
	SIGNAL_FLOW_OWN = SIGNAL_RISE_OWN + SIGNAL_CIRCUITS,
	SIGNAL_HEAT_OWN = SIGNAL_FLOW_OWN + SIGNAL_CIRCUITS,
	SIGNAL_RESISTANCE_OWN = SIGNAL_HEAT_OWN + SIGNAL_CIRCUITS,
	SIGNAL_RECOVERY_OWN = SIGNAL_RESISTANCE_OWN + SIGNAL_CIRCUITS,
	SIGNAL_COUNT = SIGNAL_RECOVERY_OWN + SIGNAL_CIRCUITS
};

/* What may differ without anything being wrong, less its middle in the reference. */
enum circumstance {
	CIRCUMSTANCE_NONE,
	CIRCUMSTANCE_STACK,   /* K */
	CIRCUMSTANCE_HALL,    /* K */
	CIRCUMSTANCE_WAIT,    /* s of soaking after the sag */
	CIRCUMSTANCE_METER,   /* ratio */
	CIRCUMSTANCE_RATE,    /* ratio, of the side that heats better */
	CIRCUMSTANCE_EXIT,    /* K */
	CIRCUMSTANCE_TOOL,    /* K, the tool above its water */
	CIRCUMSTANCE_RISE,    /* K */
	CIRCUMSTANCE_BROUGHT, /* ratio, heat that the sheet brings */
	CIRCUMSTANCE_CYCLE,   /* ratio */
	CIRCUMSTANCE_COUNT
};

enum { FOLLOWS_MAX = 4 };

/* What is expected of the slope before the reference says more: it is drawn to this
 * mean, the more the less the reference tells. */
struct follows {
	enum circumstance what;
	double slope, slope_sd; /* unit of the signal for one of the circumstance's */
};

enum signal_domain { SIGNAL_HEAT, SIGNAL_WATER, SIGNAL_CIRCUIT };

struct signal_row {
	int feature;   /* the first, of a family */
	bool relative; /* as a ratio to its middle in the reference; else in its unit */
	bool
	    derived; /* follows from others: it confirms, and tells nothing by itself */
	enum signal_domain domain;
	double least; /* a deviation under this is not worth a word, however certain */
	double least_slow; /* the same of a slow departure; 0: as least */
	struct follows follows[FOLLOWS_MAX];
};

const struct signal_row *signal_row(int signal);

/* Position from 0 of a signal of a family; -1 of one that stands alone. */
int signal_position(int signal);

int signal_feature(int signal); /* that it is of */

/* Values of a shot; NAN: cannot be said. */
struct signal_values {
	double signal[SIGNAL_COUNT];
	double circumstance[CIRCUMSTANCE_COUNT];
};

/* `middle`: of each feature in the reference (NAN: it has none). */
void signal_values(const double middle[static FEATURE_COUNT],
    const struct findings_shot *shot, struct signal_values *values);

/* The median of the finite ones among `count` values, and how many there are; NAN of
 * none.  `sorted` has room for all. */
double signal_median(
    const double *values, size_t count, double *sorted, size_t *finite);

#endif
