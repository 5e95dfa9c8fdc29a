/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The embedded store, written: one SQLite file, WAL, synchronous=FULL.
 *
 * A finished shot is one transaction; once ledger_put_shot has returned 0 it
 * survives a kill and a power loss.  One object belongs to one thread (each
 * thread opens its own); several processes may have it open.  Everything here
 * may block on the disk, at most 5 s on another writer.  What is on file beside shots and
 * what people say of them stands in ledger_delivery.h and ledger_health.h.
 */
#ifndef DAEMON_LEDGER_LEDGER_H
#define DAEMON_LEDGER_LEDGER_H

#include "conf/feature.h"
#include "daemon/base/clock.h"
#include "daemon/ledger/ledger_delivery.h"
#include "daemon/ledger/ledger_health.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct ledger;
struct settings;
struct shot;

/*
 * Opens or makes the ledger and brings an older schema up to date.  Returns NULL:
 * ERROR_TOO_NEW in `*code` (nothing is touched), ERROR_IO, ERROR_FULL, ERROR_DAMAGED,
 * with the sentence in `error`.  `code` may be NULL.
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

/* --- replay, events, context --------------------------------------------------------- */

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

/* --- keeping in bounds ----------------------------------------------------------------- */

/* Removes traces of shots filed before `before`, at most 200 a call: *more is true when
 * others may be left.  Their space is used again.  The first time after ledger_open all
 * older shots are looked through, 20,000 a call. */
int ledger_forget_traces(
    struct ledger *ledger, struct wall before, bool *more, struct error *error);

/* What may be forgotten; ns 0: nothing of it. */
struct ledger_keep {
	struct wall channels_before;
	/* Events go with shots, but of each line the last start or end before then. */
	struct wall shots_before;
	const char *const *destinations; /* what these lack or refused stays */
	size_t destination_count;
};

/*
 * Removes channels of shots, and shots with all that hangs on them, that are older, at
 * most 200 of each a call: *more is true when others may be left.  What a destination
 * still lacks stays, and what is younger than that too; so does what it refused (see
 * ledger_put_refusals), with its channels; so do the newest of every line,
 * the one with the last change number, and all copies in reference runs.  Rings of
 * readings go when their destination is none of these.  When nothing is to be done, it
 * costs some microseconds; but the first time after ledger_open it looks through as
 * ledger_forget_traces does.
 */
int ledger_forget(struct ledger *ledger, const struct ledger_keep *keep, bool *more,
    struct error *error);

/* Moves what is in the WAL into the file and cuts the WAL; for a quiet moment.  ERROR_BUSY,
 * at once, where somebody reads or writes: nothing is lost by it. */
int ledger_checkpoint(struct ledger *ledger, struct error *error);

#endif
