/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the judge has before it: the records, the true sheets, and all that went on around
 * them.  judge.c gathers it, pairing.c finds the record of each sheet, check.c looks at one
 * pair.
 */
#ifndef TESTS_SCENARIO_EVIDENCE_H
#define TESTS_SCENARIO_EVIDENCE_H

#include "daemon/shot/shot.h"
#include "tests/scenario/judge.h"

#define WALL_START_S 1772427600.0 /* the wall clock as the line began */
#define POLL_S 0.6       /* a poll of the controller with its answer and lateness */
#define EDGE_LIMIT_S 5.0 /* an edge less certain than this counts as not seen */
#define FINISH_S 20.0    /* a record comes this soon after its sheet was surely off */

struct span {
	double from_s, to_s;
};

struct spans {
	struct span *list;
	size_t count, room;
};

struct start {
	double down_s, at_s;
	bool resumed;
};

struct record {
	struct shot *shot;
	double given_s;
	int64_t surface_sheet, tool_sheet; /* whose marks its readings bear; 0: none */
	bool mixed;                        /* more than one sheet's */
};

struct judge {
	const struct line *line;
	const struct plan *plan;
	const char *name;
	int tell;
	struct verdicts verdicts;
	struct record *records;
	size_t record_count, record_room;
	struct hazard *hazards; /* of the bus */
	size_t hazard_count, hazard_room;
	struct start *starts;
	size_t start_count, start_room;
	struct spans silences; /* of the controller, longer than EDGE_LIMIT_S */
	struct spans unseen;   /* a bit went there and back */
	struct span *clocks;   /* from_s, and how far ahead in to_s */
	size_t clock_count, clock_room;
};

/* One more thing that is wrong, with the record and its sheet (either may be NULL). */
void judge_complain(struct judge *judge, const struct record *record,
    const struct line_sheet *sheet, const char *format, ...)
    __attribute__((format(printf, 4, 5)));

/* Where on the line's time a label lies, of something that was about then. */
double judge_line_s(const struct judge *judge, struct wall label, double about_s);

/* Whether a hazard of this kind, of line or bus, falls into the span. */
bool judge_had(const struct judge *judge, enum oddity oddity, struct span span);

bool spans_touch(const struct spans *spans, struct span span);

/* It was out of the oven, unformed, in a silence: was it the one that went in again? */
bool judge_out_in_silence(const struct judge *judge, const struct line_sheet *sheet);

/* The sheet was taken off and the next one put into its frame within one silence: the two
 * cannot be told from one.  Both are asked for by the later. */
bool judge_swallowed(const struct judge *judge, const struct line_sheet *later);

/* Whether a logger began within the span without knowing what stood where. */
bool judge_began(const struct judge *judge, struct span span, bool even_resumed);

/* Whether it is among the first to go into an oven after a stop. */
enum startup { STARTUP_NO, STARTUP_PERHAPS, STARTUP_YES };
enum startup judge_startup(const struct judge *judge, const struct line_sheet *sheet);

/* Adds to the starts the silences after which a logger knows no more than at one. */
void judge_find_losses(struct judge *judge);

/* Holds the record against the sheet; counts and complains. */
void check_record(
    struct judge *judge, const struct record *record, const struct line_sheet *sheet);

#endif
