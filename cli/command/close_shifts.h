/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What `evensoak close-shifts` is made of: which shifts of a line are due, when nobody logged
 * in them, what was found, and their filing.  One thread.
 */
#ifndef CLI_COMMAND_CLOSE_SHIFTS_H
#define CLI_COMMAND_CLOSE_SHIFTS_H

#include "cli/command/session.h"
#include "daemon/ledger/ledger_shift.h"

struct error;

enum {
	/* A sheet that formed in the shift has left the machine by then, and is on file. */
	CLOSE_GRACE_MINUTES = 15,
	CLOSE_BACK_DAYS =
	    35, /* so far back shifts are closed without being asked for */
	/* Of so many changes of shots the shifts are corrected at once: a run that is cut off
	 * loses no more. */
	CLOSE_PIECE_CHANGES = 5000,
	CLOSE_CORRECT_MINUTES =
	    5, /* no piece but the first is begun later in a run; the next goes on */
};

/* A shift by the set-up's hours, or by those that it was closed by. */
struct close_span {
	char shift[SETTINGS_NAME];
	struct wall from, to;
};

/* What became of it. */
enum close_done {
	CLOSE_NEW,
	CLOSE_REVISED,
	CLOSE_SAME,
	CLOSE_NOT_LOGGED, /* no shots, and the daemon did not run: nothing is filed */
	CLOSE_FORGOTTEN, /* some of its shots are no longer on file: it stays as it is */
	CLOSE_OTHER_HOURS, /* a shift of other hours is on file for that time, or it ended
	                      before there were these */
	CLOSE_NOT_YET,
	CLOSE_DONE_COUNT
};
const char *close_done_text(enum close_done done);

struct close_told {
	const char *line;
	const struct close_span *span;
	enum close_done done;
	struct ledger_shift shift; /* its sums, where it was judged */
};

/* How a run goes. */
struct closing {
	const struct session *session;
	struct ledger
	    *ledger; /* to be written; NULL: this line has nothing to file yet */
	struct wall now;
	struct mono begun; /* the run */
	bool dry;
	struct wall hours_since; /* nothing that ended before is closed newly */
	bool again;              /* also those that are on file */
	struct wall from, to;    /* those that reach into it; by `again` alone */
	bool unfinished;         /* there are corrections left for the next run */
	void (*tell)(void *arg, const struct close_told *told);
	void (*tell_finding)(void *arg, const char *line, const struct close_span *span,
	    const char *text);
	void *arg;
};

/* Closes what is due of a line (an index), and files what is found in the shift that runs or
 * has just ended. */
int close_shifts_of_line(struct closing *closing, int line, struct error *error);

/* Those on file of which a shot was labelled or made anew, or came late: with changes later
 * than `after`, up to `to`. */
int close_shifts_corrected(
    struct closing *closing, int line, int64_t after, int64_t to, struct error *error);

/* --- its parts -------------------------------------------------------------------------- */

/* The shifts of the set-up that reach into a time, in the order of time; the caller frees. */
struct close_spans {
	struct close_span *list;
	size_t count;
};
int close_spans_find(struct close_spans *spans, const struct settings *settings,
    struct wall from, struct wall to, struct error *error);

/* Since when the shifts have the hours of the set-up; ns 0: since before `from`, or as long as
 * there are any. */
int close_hours_since(struct wall *since, const struct session *session,
    struct wall from, struct error *error);

/* The seconds in which nobody logged the line; NAN: it does not say when anybody did. */
int close_gap_read(double *gap_s, const struct session *session, const char *line,
    const struct close_span *span, struct error *error);

/* How many findings there are in the shots of a span; NAN: nothing is held against anything.
 * `file`: the named ones that are likely or sure become events, each once a shift. */
int close_found(struct closing *closing, int line, const struct close_span *span,
    bool file, double *count, struct error *error);

#endif
