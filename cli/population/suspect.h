/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which parts are suspect: outside a limit, of unknown value, or not made in the usual way;
 * and between which good ones they lie.  What is not known to be good bounds nothing.  Parts
 * that were made since a characteristic became unstable, and lie within its limits, are told
 * beside them, and are suspect only where that is asked for.  Pure: arrays in; one thread.
 */
#ifndef CLI_POPULATION_SUSPECT_H
#define CLI_POPULATION_SUSPECT_H

#include "cli/population/population.h"
#include "cli/population/ranges.h"
#include "cli/stats/onset.h"
#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>
#include <stddef.h>

#define SUSPECT_NONE SIZE_MAX /* no such shot */

enum suspect_kind {
	SUSPECT_OUTSIDE, /* of a limit */
	SUSPECT_ABSENT,  /* a value is not known */
	SUSPECT_OUTCOME, /* not seen whole, or not heated and formed in the usual way */
	SUSPECT_GAP,     /* scans are missing where the machine moved it on */
	SUSPECT_UNSTABLE,  /* moved within its limits, and that is asked about */
	SUSPECT_TOLD,      /* by whoever asks: a finding */
	SUSPECT_NO_RECORD, /* a number that has no shot */
	SUSPECT_UNLOGGED,  /* sheets that nobody numbered */
	SUSPECT_KIND_COUNT
};

/* "outside_limit", "unknown_value" ... */
const char *suspect_kind_text(enum suspect_kind kind);

enum suspect_state {
	SUSPECT_GOOD,    /* complete, and every value known and within its limits */
	SUSPECT_NEITHER, /* start-up, or nothing it could be judged by: bounds nothing */
	SUSPECT_NO_PART, /* no part was made of it, as far as was seen */
	SUSPECT_HELD,
};

/* Why a shot, or what lies before it, is suspect. */
struct suspect_reason {
	enum suspect_kind kind;
	size_t shot; /* of SUSPECT_NO_RECORD and SUSPECT_UNLOGGED: the one behind it */
	int feature; /* -1: none */
	enum absent absent;    /* of SUSPECT_ABSENT */
	int side;              /* of SUSPECT_OUTSIDE: -1 below, 1 above */
	enum onset_kind onset; /* of SUSPECT_UNSTABLE */
	int64_t first, last;   /* of SUSPECT_NO_RECORD: numbers */
	int64_t sheets;        /* of SUSPECT_UNLOGGED: 0: nobody knows */
	const char *words;     /* of SUSPECT_TOLD; lent */
};

/* Shots of one recipe, tool, lot and material that were made since a characteristic became
 * unstable, from the earliest one on in which that may have begun; or single ones that stand
 * out.  Those outside its limits are not among them. */
struct suspect_moved {
	int feature;
	enum onset_kind onset;
	struct numbers numbers;
	size_t first, last; /* shots */
	/* The shot in which it began, and its range (95 %); of ONSET_SINGLE SUSPECT_NONE. */
	size_t likely, earliest, latest;
};

struct suspect_asked {
	const struct settings *settings;
	int feature; /* this one alone; -1: all that have limits */
	/* In the unit of its name, in place of those of the set-up; both NAN: those. */
	double lower, upper;
	const struct ledger_shot *shots; /* of one line, by number, each once */
	size_t count;
	size_t first, last; /* those that are asked about; the others bound them */
	bool unstable;      /* what moved within its limits is suspect too */
};

struct suspects {
	const struct suspect_asked *asked; /* lent */
	unsigned char *state;              /* enum suspect_state of each shot */
	struct suspect_reason *reasons;    /* by shot once suspects_bound was called */
	size_t reason_count, reason_room;
	struct suspect_moved *moved;
	size_t moved_count;
	bool *has_moved;                /* of each shot */
	bool unmeasured[FEATURE_COUNT]; /* has limits, and the line never measured it */
	bool wanders[FEATURE_COUNT];    /* unstable, and no beginning can be told */
	size_t judged;                  /* series whose stability was judged */
	size_t too_few; /* shots asked about in series too short for that */
	size_t startup; /* shots asked about that are neither, being start-up ones */
	size_t without_limits; /* complete shots asked about that nothing is known of */
};

/* False when memory is short; release in either case. */
bool suspects_judge(struct suspects *suspects, const struct suspect_asked *asked);
/* Adds one more; of a shot it is held by it.  False when memory is short. */
bool suspects_add(struct suspects *suspects, const struct suspect_reason *reason);
/* Parts that moved within their limits, and are not suspect. */
size_t suspects_moved_parts(const struct suspects *suspects);

/* Numbers that have no record. */
bool suspects_add_lacking(struct suspects *suspects, const struct lacking *lacking);
void suspects_release(struct suspects *suspects);

/* --- their bounds ------------------------------------------------------------------------ */

/* Everything between two good shots that holds something suspect. */
struct suspect_run {
	size_t first, last; /* shots; last < first: numbers without a record alone */
	size_t last_good, first_good;      /* SUSPECT_NONE: none among those read */
	size_t reason_first, reason_count; /* in suspects->reasons */
	int64_t first_bad;     /* the first suspect number; 0: it has none */
	size_t first_bad_shot; /* SUSPECT_NONE: a number without a record */
};

struct suspect_runs {
	struct suspect_run *list;
	size_t count;
};

/* Those that reach into what is asked about.  False when memory is short; release. */
bool suspects_bound(struct suspects *suspects, struct suspect_runs *runs);
void suspect_runs_release(struct suspect_runs *runs);

/* The numbers to hold: of all shots of the run that made a part, and without a record. */
bool suspect_run_numbers(const struct suspects *suspects, const struct suspect_run *run,
    struct ranges *ranges);
/* Of its shots those that are held and lie before what is asked about, with the numbers without
 * a record between them. */
int64_t suspect_run_before(
    const struct suspects *suspects, const struct suspect_run *run);

#endif
