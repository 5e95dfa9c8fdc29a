/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The event script: what goes wrong, and when.  One event a line,
 *
 *     at SECONDS EVENT [KEY=VALUE]...
 *     sheet NUMBER[+SECONDS] EVENT [KEY=VALUE]...
 *
 * with comments from ;; on.  README.md lists the events.  Reading finds every
 * mistake, not the first only.  One object belongs to one thread.
 */
#ifndef CONTRIB_LINESIM_SCRIPT_H
#define CONTRIB_LINESIM_SCRIPT_H

#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>

#include "contrib/linesim/truth.h"

struct text;

enum event_kind {
	EVENT_LOT,          /* another delivery of sheets from here on */
	EVENT_COLD,         /* a sheet starts at start_c */
	EVENT_EMPTY,        /* the operator leaves the frame empty */
	EVENT_SCRAP,        /* the sheet is pulled out on the way to the form station */
	EVENT_ABORT,        /* the platens do not close on it */
	EVENT_SAG_EYE,      /* stuck, bouncing or dead for one sheet */
	EVENT_REHEAT,       /* it is not formed and goes through the oven again */
	EVENT_DOUBLE_INDEX, /* a ring moves on twice */
	EVENT_FAULT,        /* the machine stops for for_s */
	EVENT_JOG,          /* one move by hand, in manual for for_s */
	EVENT_COUNTER,      /* the cycle counter is set */
	EVENT_DEAD_ZONE,    /* a heating element heats no more */
	EVENT_WEAK_ZONE,    /* ... heats by `factor` */
	EVENT_SET_POINT,    /* somebody sets a zone otherwise, under the same recipe */
	EVENT_WINDOW,       /* a pyrometer's window lets through `factor` */
	EVENT_CLOG,         /* a water circuit's flow goes to `factor` within over_s */
	EVENT_OPEN,         /* a sensor is open */
	EVENT_FREEZE,       /* a value stands still */
	EVENT_SILENT,       /* a device answers nothing */
	EVENT_EXCEPTION,    /* ... answers everything with exception `code` */
	EVENT_LATE,         /* ... answers after delay_s */
	EVENT_STACK,        /* the sheet stack is colder or warmer by by_c */
	EVENT_MAINS,        /* the mains voltage is `factor` of what it would be */
	EVENT_DRAUGHT,      /* the air in an oven has air_c */
	EVENT_SUPPLY,       /* the water supply goes by by_c within over_s */
	EVENT_PUMP,         /* the flow of all circuits goes to `factor` */
	EVENT_SCALE,        /* heat passes into a circuit's water by `factor` */
	EVENT_CONTACT,      /* the sheet warms a zone of the tool by `factor` */
	EVENT_OFFSET,       /* a sensor shows `by` more within over_s */
	EVENT_SWAP,         /* two sensors stand for each other */
	EVENT_KIND_COUNT
};

/* "lot", "cold" ... as scripts and the truth write them. */
const char *event_name(int kind);

enum eye_state { EYE_SOUND, EYE_STUCK, EYE_BOUNCING, EYE_DEAD };

struct event {
	enum event_kind kind;
	bool by_sheet;
	double when;    /* seconds since the start, or the sheet's number */
	double after_s; /* of a sheet's: so much later than it would be */
	bool done;
	char lot[LOT_NAME_MAX];
	double melt_flow, thickness, conductivity; /* relative to the usual */
	double emissivity;
	double start_c;
	double number; /* of a zone, circuit or pyrometer, from 1 */
	double place;  /* of its oven, or of the side of its tool, from 1 */
	double factor, percent;
	double output_percent; /* what a dead zone's output shows; negative: as ever */
	double over_s, for_s, delay_s;
	double code, value, by, air_c;
	int face, device, eye, point, other_point;
};

enum { SCRIPT_EVENTS_MAX = 2000 };

struct script {
	struct event events[SCRIPT_EVENTS_MAX];
	int count;
};

/*
 * Reads `file`, called `name` in what it says.  True when there is no mistake;
 * otherwise `mistakes` has a line "name:line: what is wrong" for each.
 */
bool script_read(
    struct script *script, const char *name, FILE *file, struct text *mistakes);

#endif
