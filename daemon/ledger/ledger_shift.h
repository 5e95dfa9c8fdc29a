/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shifts that have ended, as they are filed and sent: what a line made in one, and each
 * characteristic in it.  Rows are never changed: figures that come out otherwise later are
 * a new revision, and the one before is marked as superseded.
 *
 * Writing: as ledger.h; reading: as ledger_read.h.  One object belongs to one thread.
 */
#ifndef DAEMON_LEDGER_LEDGER_SHIFT_H
#define DAEMON_LEDGER_LEDGER_SHIFT_H

#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"

/* What is told of a shift; columns of shift_total and fields of its point. */
enum ledger_shift_sum {
	LEDGER_SHIFT_SHOTS,
	LEDGER_SHIFT_OUTCOME, /* the first of SHOT_OUTCOME_COUNT, in their order */
	LEDGER_SHIFT_OUTSIDE = LEDGER_SHIFT_OUTCOME + SHOT_OUTCOME_COUNT,
	LEDGER_SHIFT_CYCLE_S,
	LEDGER_SHIFT_OVEN_KWH,
	LEDGER_SHIFT_HEAT_REMOVED_KWH,
	LEDGER_SHIFT_GAP_S,
	LEDGER_SHIFT_LENGTH_S,
	LEDGER_SHIFT_FINDINGS,
	LEDGER_SHIFT_CAPABLE,
	LEDGER_SHIFT_NOT_CAPABLE,
	LEDGER_SHIFT_NOT_ESTABLISHED,
	LEDGER_SHIFT_SUMS
};
const char *ledger_shift_sum_name(enum ledger_shift_sum sum);

/* What is told of a characteristic; columns of shift_summary and fields of its point. */
enum ledger_shift_figure {
	LEDGER_SHIFT_LOTS,
	LEDGER_SHIFT_N,
	LEDGER_SHIFT_MEAN,
	LEDGER_SHIFT_SD,
	LEDGER_SHIFT_CP,
	LEDGER_SHIFT_CPK,
	LEDGER_SHIFT_CPK_LOW,
	LEDGER_SHIFT_CPK_HIGH,
	LEDGER_SHIFT_PP,
	LEDGER_SHIFT_PPK,
	LEDGER_SHIFT_PPK_LOW,
	LEDGER_SHIFT_PPK_HIGH,
	LEDGER_SHIFT_LOWER,
	LEDGER_SHIFT_UPPER,
	LEDGER_SHIFT_TARGET,
	LEDGER_SHIFT_BEYOND, /* "outside" */
	LEDGER_SHIFT_STABLE,
	LEDGER_SHIFT_VERDICT,
	LEDGER_SHIFT_FIGURES
};
const char *ledger_shift_figure_name(enum ledger_shift_figure figure);

struct ledger_shift_row {
	char recipe[LEDGER_NAME],
	    tool[LEDGER_NAME];               /* the recipe's number; "": unknown */
	char characteristic[LEDGER_NAME];    /* the name of a feature */
	double figure[LEDGER_SHIFT_FIGURES]; /* NAN: not known, not to be quoted */
};

struct ledger_shift {
	int64_t change, revision, superseded; /* given by the ledger; 0: it holds */
	char line[LEDGER_NAME], shift[SETTINGS_NAME];
	struct wall from, to, closed;
	char setup[17];                /* hash of the configuration with the limits */
	double sum[LEDGER_SHIFT_SUMS]; /* NAN: not known */
	const struct ledger_shift_row *rows; /* lent; of one that is put alone */
	size_t row_count;
};

/* --- writing -------------------------------------------------------------------------- */

enum ledger_shift_filed {
	LEDGER_SHIFT_SAME, /* it is on file like that, and nothing was done */
	LEDGER_SHIFT_NEW,
	LEDGER_SHIFT_REVISED, /* the one before is marked as superseded */
};

/*
 * Files a shift with its rows, its numbers rounded as all on file (see filed.h), in one
 * transaction; `shift->change` and `revision` are of no account.  `dry`: only says what
 * would come of it.  ERROR_NOT_FOUND for an unknown line.
 */
int ledger_put_shift(struct ledger *ledger, const struct ledger_shift *shift, bool dry,
    enum ledger_shift_filed *filed, struct error *error);

/* An event of kind `finding` at `at`, unless its line has one since `from` (and before `to`)
 * that begins with the same words; strings are lent. */
struct ledger_finding {
	const char *line;
	struct wall from, to, at;
	const char *text;
	size_t words; /* so many bytes of the text say which finding it is */
};
int ledger_put_finding(struct ledger *ledger, const struct ledger_finding *finding,
    bool dry, bool *filed, struct error *error);

/* Up to which change of shots it was looked whether they are of shifts that are on file. */
int ledger_put_shift_closing(
    struct ledger *ledger, int64_t change, struct error *error);

/* --- reading -------------------------------------------------------------------------- */

/* Which; zeroed: all that hold, by change number. */
struct ledger_shift_filter {
	const char *line;     /* NULL: all */
	struct wall from, to; /* those that reach into it; ns 0: open */
	int64_t after_change;
	int64_t with_later; /* those with a shot of a later change; 0: all */
	int64_t with_to;    /* with_later: up to this change; 0: any */
	size_t limit;       /* 0: all */
};

/* Those that hold; lent to `take`, whose return other than 0 ends it. */
int ledger_read_shifts(struct ledger_read *ledger,
    const struct ledger_shift_filter *filter,
    int (*take)(void *arg, const struct ledger_shift *shift), void *arg,
    struct error *error);

/* The earlier revisions of one, the oldest first. */
int ledger_read_shift_earlier(struct ledger_read *ledger,
    const struct ledger_shift *shift,
    int (*take)(void *arg, const struct ledger_shift *earlier), void *arg,
    struct error *error);

/* The rows of the revision with this change, as they were put. */
int ledger_read_shift_rows(struct ledger_read *ledger, int64_t change,
    int (*take)(void *arg, const struct ledger_shift_row *row), void *arg,
    struct error *error);

/* As it was put, 0 at first; and the last change of any shot. */
int ledger_read_shift_closing(
    struct ledger_read *ledger, int64_t *change, int64_t *last, struct error *error);

#endif
