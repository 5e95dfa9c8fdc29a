/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The embedded store, written: one SQLite file, WAL, synchronous=FULL.
 *
 * A finished shot is one transaction; once ledger_put_shot has returned 0 it
 * survives a kill and a power loss.  One object belongs to one thread (each
 * thread opens its own); several processes may have it open.  Everything here
 * may block on the disk, at most 5 s on another writer.
 */
#ifndef DAEMON_LEDGER_LEDGER_H
#define DAEMON_LEDGER_LEDGER_H

#include "conf/feature.h"
#include "daemon/base/clock.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct ledger;
struct settings;
struct shot;

/*
 * Opens or makes the ledger and brings an older schema up to date.  Returns NULL:
 * ERROR_TOO_NEW in `*code` (nothing is touched), ERROR_IO, ERROR_FULL, with the
 * sentence in `error`.  `code` may be NULL.
 */
struct ledger *ledger_open(const char *path, int *code, struct error *error);
void ledger_close(struct ledger *ledger);

/*
 * Makes this process the one daemon of the ledger: a lock on "<path>.lock" that
 * lasts as long as the process.  ERROR_BUSY when it is taken, also by ourselves.
 */
int ledger_lock(const char *path, struct error *error);

/*
 * Files the configuration (whole text, hash) unless the newest one is the same and of
 * the same program version, the lines, and the features with a column each.  `*setup`
 * is the id that shots written from now on point to; also remembered by the ledger
 * object.
 */
int ledger_put_setup(struct ledger *ledger, const struct settings *settings,
    struct wall at, int64_t *setup, struct error *error);

/* The number given last on a line and when that shot was closed; 0 and ns 0 when none. */
int ledger_last_shot(struct ledger *ledger, const char *line, int64_t *shot_no,
    struct wall *closed_at, struct error *error);

/*
 * Writes one finished shot with its trace in one transaction, with the tool, lot and
 * material in force at shot_time (see ledger_put_context) and the next change number.
 * Numbers are rounded to ten digits and times cut to microseconds: see filed.h, why.
 * Writing a (line, shot_no) that is there already changes nothing and is no error.
 * ERROR_FULL and ERROR_IO leave nothing half-written; trying again is safe.
 * `settings` must be those that ledger_put_setup was given last: else ERROR_INVALID.
 */
int ledger_put_shot(struct ledger *ledger, const struct settings *settings,
    const struct shot *shot, struct error *error);

/*
 * Puts what was made of a shot again in the place of what is there: features, channels,
 * absences, outcome, flags, reason, properties, the setup that ledger_put_setup was given
 * last, the next change number.  Labels, times, numbers and the trace stay.  What is
 * replaced stays readable with its setup (ledger_read_earlier): every feature whose value
 * or reason changes, the outcome, the properties.  Features that were not configured stand
 * in one row, LEDGER_NOT_CONFIGURED; those first known under a later setup than the shot's
 * (as `feature` tells) in none.  When none of it differs nothing is changed, neither the
 * setup nor the change number, and `*changed` is false.  ERROR_NOT_FOUND when there is no such
 * shot, ERROR_INVALID when `shot` is not of its line.
 */
#define LEDGER_NOT_CONFIGURED "not_configured" /* in the place of a feature's name */
int ledger_put_recomputed(struct ledger *ledger, const struct settings *settings,
    int64_t shot_id, const struct shot *shot, bool *changed, struct error *error);

/* --- sheets in flight: one row a line, replaced ------------------------------- */

/* What tracker_save said.  Survives a kill at once, a power loss from the next shot on.
 * ERROR_NOT_FOUND for an unknown line. */
int ledger_put_in_flight(struct ledger *ledger, const char *line, const void *bytes,
    size_t byte_count, struct wall at, struct error *error);

/* The bytes that were put last, the caller frees; NULL and 0 when there are none. */
int ledger_in_flight(struct ledger *ledger, const char *line, void **bytes,
    size_t *byte_count, struct error *error);

/* --- keeping ------------------------------------------------------------------- */

/* Removes traces of shots filed before `before`, at most 200 a call: *more is true when
 * others may be left.  Their space is used again.  The first time after ledger_open all
 * older shots are looked through, 20,000 a call. */
int ledger_forget_traces(
    struct ledger *ledger, struct wall before, bool *more, struct error *error);

/*
 * For a replay, whose recording can be played again: nothing waits for the disk, and what
 * is written goes in transactions of many shots until ledger_close or the opposite call,
 * which tells whether all of it got there and waits until the disk has it.  Meanwhile
 * other writers are kept out.  A kill takes back the last transaction, a power loss may
 * spoil the ledger; after ERROR_FULL or ERROR_IO what was written since may be gone.
 */
int ledger_set_hasty(struct ledger *ledger, bool hasty, struct error *error);

/* Of a line, or of the logger itself: NULL.  ERROR_NOT_FOUND for an unknown line. */
int ledger_put_event(struct ledger *ledger, const char *line, struct wall at,
    const char *kind, const char *text, struct error *error);

/* What a person says holds for a line from a time on. */
enum context_key {
	CONTEXT_RECIPE, /* only where the machine does not tell it */
	CONTEXT_TOOL,
	CONTEXT_LOT,
	CONTEXT_NOTE,
	CONTEXT_KEY_COUNT
};
const char *context_key_text(enum context_key key);

/* What somebody says was so on a line; the strings are lent. */
struct ledger_entry {
	const char *line;
	enum context_key key;
	const char *value;
	struct wall from, entered; /* the latter is now */
};

/*
 * Files a context entry holding from `from` until the next entry of its key; of two
 * with the same `from` the later entered wins, and "" means unknown from then on.
 * Shots already written in that span are labelled anew: those whose label changes get
 * new change numbers, and `*relabelled` says how many.
 * ERROR_NOT_FOUND for a line that was never in the ledger; ERROR_INVALID for a recipe
 * that is no number, a tool or lot over 63 bytes, a note that is empty or over 255.
 */
int ledger_put_context(struct ledger *ledger, const struct ledger_entry *entry,
    int64_t *relabelled, struct error *error);

/* What was measured of a sheet delivery; a later row for a lot holds instead. */
struct ledger_lot {
	const char *name;
	double thickness_m, stack_c; /* NAN: not measured */
	struct wall entered;
	char material[64]; /* of its shots, in place of their recipes'; "": none told */
};

/* Shots of the lot get its material as their label, or their recipe's again: those whose
 * label changes get new change numbers, and `*relabelled` (NULL: not wanted) says how
 * many.  ERROR_INVALID for a name that is empty or over 63 bytes, a thickness or a stack
 * temperature outside the SHEET_ bounds of conf/settings.h. */
int ledger_put_lot(struct ledger *ledger, const struct ledger_lot *lot,
    int64_t *relabelled, struct error *error);

/* --- calibrations: rows that are never changed -------------------------------------- */

/* How far a channel was found to be off, and how far it was left. */
struct ledger_calibration {
	int64_t id; /* given by the ledger */
	const char *line, *device, *channel;
	struct wall at; /* holds from here until the channel's next */
	double as_found,
	    as_left;     /* shown minus true, in the inside's unit; NAN: not known */
	struct wall due; /* of the next one; ns 0: none set */
	const char *reference; /* the instrument or way it was checked with */
	const char *by;
	struct wall entered;
};

/* Of two with the same `at` the later entered holds.  Readings are corrected by minus
 * as_left as shots are made; earlier shots by recompute.  ERROR_NOT_FOUND for an unknown
 * line; ERROR_INVALID for a channel without a name, an as_left that is no number. */
int ledger_put_calibration(struct ledger *ledger,
    const struct ledger_calibration *calibration, struct error *error);

/* Several in one transaction: all of them or, on an error, none.  The same errors; the
 * sentence names the one that they are of. */
int ledger_put_calibrations(struct ledger *ledger,
    const struct ledger_calibration *list, size_t count, struct error *error);

/* --- what people told of a shot ------------------------------------------------------ */

/* A shot of line `line` of the settings that is, or will be, filed at `at`; the machine told
 * this recipe, -1: none. */
struct ledger_question {
	const struct settings *settings;
	uint32_t line;
	int recipe;
	struct wall at;
};

/*
 * What holds by the ledger for that shot, for record_make: see daemon/shot/circumstances.h.
 * Of what nobody told it is as circumstances_untold says, and so it is all on a line that
 * the ledger does not know.  `correction` has room for settings->channel_count and is lent
 * to `circumstances` (which says NULL when all are 0).  On an error `circumstances` stays.
 */
struct circumstances;
int ledger_circumstances(struct ledger *ledger, const struct ledger_question *question,
    double *correction, struct circumstances *circumstances, struct error *error);

/* --- reference runs: frozen copies, never changed nor deleted ------------------------ */

/* Shots frozen to hold later ones against. */
struct ledger_reference {
	int64_t id;
	const char *name;                        /* unique */
	const char *line, *side, *recipe, *tool; /* its shots are of these */
	struct wall from, to, frozen; /* its shots' span; when it was frozen */
	struct wall withdrawn;        /* ns 0: not; set by ledger_withdraw_reference */
	int64_t shots;
	int64_t setup; /* of its last shot */
	const char *note;
};

/* A shot of it: its features, in the unit on file; NAN absent. */
struct ledger_reference_shot {
	int64_t shot_no;
	struct wall filed_at;
	char lot[64];
	double value[FEATURE_COUNT];
};

/* All of it in one transaction.  ERROR_INVALID for a name that is there already, or no
 * shots.  `*id` is its number. */
int ledger_put_reference(struct ledger *ledger,
    const struct ledger_reference *reference, const struct ledger_reference_shot *shots,
    size_t count, int64_t *id, struct error *error);

/* Nothing is to be held against it from `at` on; it stays on file, and its name stays
 * taken.  ERROR_NOT_FOUND for a name that is not there, ERROR_INVALID when it was withdrawn
 * before. */
int ledger_withdraw_reference(
    struct ledger *ledger, const char *name, struct wall at, struct error *error);

/* --- delivery: a cursor a destination and stream ("shot", "event") ----------- */

/* The change number up to which a destination has everything; 0 at first. */
/* A cursor may step back; a power loss may set it back too, never forward. */
int ledger_cursor(struct ledger *ledger, const char *destination, const char *stream,
    int64_t *change, struct error *error);
int ledger_set_cursor(struct ledger *ledger, const char *destination,
    const char *stream, int64_t change, struct wall at, struct error *error);

/*
 * How far a destination has a stream: "shot" and "event" by change number, "reading" by
 * the number in the ring.  `turn` goes up when somebody sets the cursor back; `lost` are
 * the readings that the ring dropped before they went out.  All 0 at first.
 */
struct ledger_delivered {
	int64_t change, turn, lost;
	struct wall at; /* when it moved last */
};
int ledger_delivered(struct ledger *ledger, const char *destination, const char *stream,
    struct ledger_delivered *delivered, struct error *error);

/* Moves it; a power loss may set it back, never forward.  ERROR_BUSY, and nothing
 * changed, when it is of another turn on file: read it again and go on from there. */
int ledger_set_delivered(struct ledger *ledger, const char *destination,
    const char *stream, const struct ledger_delivered *delivered, struct error *error);

/*
 * Sets a destination back, so that every shot and event of the time `from` and later goes
 * out again (and whatever changed since the first of them).  It never moves forward.
 * `*shots` and `*events` say how many are to be sent now.
 */
int ledger_set_back(struct ledger *ledger, const char *destination, struct wall from,
    int64_t *shots, int64_t *events, struct error *error);

/* A line that a destination refuses, with the server's words; the strings are lent. */
struct ledger_refusal {
	const char *destination;
	int64_t change;
	const char *line, *answer;
	struct wall at;
};

/* Sets it aside; of one line and change the last answer is kept. */
int ledger_put_refusal(
    struct ledger *ledger, const struct ledger_refusal *refusal, struct error *error);

/* --- live readings: a ring for each destination that wants them ------------------------ */

/* What all channels of a line read over one interval; bytes and strings are lent. */
struct ledger_reading {
	int64_t number; /* in its ring; given by the ledger */
	const char *line;
	struct wall at;
	const void *bytes; /* packed by the caller */
	size_t byte_count;
};

/* Appends it under the next number of the destination (from 1 on, without a hole), and
 * now and then drops the first ones as long as they are from before `keep_from`.  A kill
 * keeps it, a power loss may take the last back.  ERROR_NOT_FOUND for an unknown line. */
int ledger_put_reading(struct ledger *ledger, const char *destination,
    const struct ledger_reading *reading, struct wall keep_from, struct error *error);

/* --- keeping in bounds ----------------------------------------------------------------- */

/* What may be forgotten; ns 0: nothing of it. */
struct ledger_keep {
	struct wall channels_before, shots_before; /* events go with shots */
	const char *const *destinations;           /* what these still lack stays */
	size_t destination_count;
};

/*
 * Removes channels of shots, and shots with all that hangs on them, that are older, at
 * most 200 of each a call: *more is true when others may be left.  What a destination
 * still lacks stays, and what is younger than that too; so do the newest of every line,
 * the one with the last change number, and all copies in reference runs.  Rings of
 * readings go when their destination is none of these.  When nothing is to be done, it
 * costs some microseconds; but the first time after ledger_open it looks through as
 * ledger_forget_traces does.
 */
int ledger_forget(struct ledger *ledger, const struct ledger_keep *keep, bool *more,
    struct error *error);

/* --- the logger itself: one row, replaced with health ----------------------------------- */

struct ledger_logger {
	char host[64], version[32];
	struct wall started, at;
	int64_t polls, failures, late;      /* scans of all devices since the start */
	int64_t queue, queue_most, dropped; /* readings not looked at yet; ever; lost */
	int64_t waiting, lost;              /* shots not on file yet; lost */
	int64_t filed;                      /* shots since the start */
	int64_t clock_steps;                /* of the system's clock since the start */
	int64_t memory_bytes;               /* resident */
	int64_t ledger_bytes, free_bytes;   /* of the file with its WAL; of its disk */
};
int ledger_put_logger(
    struct ledger *ledger, const struct ledger_logger *logger, struct error *error);

/* --- health: one row a subject, for evensoak status ---------------------------- */

struct ledger_health {
	const char *subject; /* "daemon", "device plc", "store plant" */
	const char *state;   /* "ok", or one word for what is wrong */
	const char *text;    /* one sentence */
	struct wall since;   /* of this state */
	struct wall at;      /* of this row */
	int64_t good,
	    bad; /* counts since the daemon started: scans answered in full and
	    the others, batches ... */
};

/* What is counted of a polled device; but for the first four, what became of requests. */
enum ledger_count {
	LEDGER_COUNT_SCANS,
	LEDGER_COUNT_FAILURES, /* scans that were not answered in full */
	LEDGER_COUNT_LATE,     /* scans that began a period or more after their time */
	LEDGER_COUNT_OPENED,   /* connections made, of its bus */
	LEDGER_COUNT_GOOD,
	LEDGER_COUNT_ILLEGAL, /* exceptions: it has not what it was asked for */
	LEDGER_COUNT_BUSY,    /* it asks for time */
	LEDGER_COUNT_FAULT,   /* any other exception */
	LEDGER_COUNT_GATEWAY, /* the gateway does not reach it */
	LEDGER_COUNT_NONE,    /* timed out */
	LEDGER_COUNT_WRONG,   /* answers to something else, or damaged */
	LEDGER_COUNT_LOST,    /* the connection or the port was gone */
	LEDGER_COUNTS
};

/* Of its column and of its field in a store: "scans", "failures" ... */
const char *ledger_count_name(enum ledger_count count);

/* A device as its bus sees it; the strings are lent. */
struct ledger_device {
	const char *device, *line, *bus;
	const char *state; /* as in its row of health */
	const char *why; /* a count's name: what its last failure was; "": none, or not
	    a request's */
	struct wall since; /* polled, and counted, from here on */
	struct wall at;
	int64_t counts[LEDGER_COUNTS];
	double late_p99_s, late_worst_s; /* how late its scans begin; NAN: not known */
	const char *port; /* of a serial bus: its path; NULL or "": the bus is none */
	double period_s;  /* its shortest */
	struct wall state_since; /* it is in this state */
	/* Of its channels, while it answers: so many have no good value; since when one has
	 * been at fault, not merely out of range (ns 0: none is); and the first by name
	 * with the reason, for people. */
	int64_t bad_channels;
	struct wall bad_since;
	const char *bad_text;
	/* As the counts, from here on: one to two hours ago, or later.  From
	 * LEDGER_COUNT_GOOD on; the others are not filed. */
	struct wall recent_since;
	int64_t recent[LEDGER_COUNTS];
};

/* All rows at once, in place of those that were there.  They carry the run of the process
 * that has the ledger's lock, if it has: see ledger_summary. */
int ledger_put_health(struct ledger *ledger, const struct ledger_health *rows,
    size_t count, const struct ledger_device *devices, size_t device_count,
    struct error *error);

/* Moves what is in the WAL into the file and cuts the WAL; for a quiet moment. */
int ledger_checkpoint(struct ledger *ledger, struct error *error);

#endif
