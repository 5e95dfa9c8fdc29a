/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The inside of struct ledger, shared by the files that write the ledger; nobody
 * else includes this.  Statements are prepared once, when the ledger is opened.
 */
#ifndef DAEMON_LEDGER_LEDGER_INSIDE_H
#define DAEMON_LEDGER_LEDGER_INSIDE_H

#include "conf/feature.h"
#include "conf/settings.h"
#include "daemon/ledger/database.h"
#include "daemon/ledger/ledger.h"
#include "daemon/ledger/ledger_circumstances.h"
#include "daemon/shot/shot.h"

enum ledger_statement {
	STATEMENT_NEXT_CHANGE,
	STATEMENT_LINE_ID,
	/* setup */
	STATEMENT_NEWEST_SETUP,
	STATEMENT_PUT_SETUP,
	STATEMENT_PUT_LINE,
	STATEMENT_PUT_RECIPE,
	STATEMENT_PUT_CHANNEL,
	STATEMENT_CHANNEL_ID,
	STATEMENT_PUT_FEATURE,
	/* shots, events */
	STATEMENT_LAST_SHOT,
	STATEMENT_LABELS,
	STATEMENT_PUT_ABSENT,
	STATEMENT_PUT_SHOT_CHANNEL,
	STATEMENT_PUT_EVENT,
	/* traces, sheets in flight */
	STATEMENT_PUT_TRACE,
	STATEMENT_PUT_IN_FLIGHT,
	/* shots made again */
	STATEMENT_ABSENCES,
	STATEMENT_COUNT_SHOT_CHANNELS,
	STATEMENT_SHOT_CHANNEL,
	STATEMENT_CLEAR_ABSENT,
	STATEMENT_CLEAR_SHOT_CHANNELS,
	STATEMENT_FEATURE_SINCE,
	STATEMENT_PUT_EARLIER,
	/* context */
	STATEMENT_PUT_CONTEXT,
	STATEMENT_SPAN_END,
	STATEMENT_RELABEL_RECIPE,
	STATEMENT_RELABEL_TOOL,
	STATEMENT_RELABEL_LOT,
	STATEMENT_RELABEL_MATERIAL, /* of a lot */
	STATEMENT_PUT_LOT,
	/* calibrations, reference runs */
	STATEMENT_PUT_CALIBRATION,
	STATEMENT_COUNT_REFERENCES,
	STATEMENT_PUT_REFERENCE,
	STATEMENT_WITHDRAW_REFERENCE,
	/* forgetting */
	STATEMENT_OLD_TRACES,
	STATEMENT_OLD_CHANNELS,
	STATEMENT_OLD_SHOTS,
	STATEMENT_OLD_EVENTS,
	STATEMENT_FORGET_TRACE,
	STATEMENT_FORGET_EARLIER,
	STATEMENT_FORGET_SUPERSEDED,
	STATEMENT_FORGET_SHOT,
	STATEMENT_FORGET_EVENT,
	STATEMENT_RINGS,
	STATEMENT_FORGET_READINGS,
	STATEMENT_FORGET_RING,
	/* readings */
	STATEMENT_RING,
	STATEMENT_PUT_RING,
	STATEMENT_NEXT_READING,
	STATEMENT_PUT_READING,
	STATEMENT_DROP_READINGS,
	/* delivery, health */
	STATEMENT_DELIVERED,
	STATEMENT_SET_DELIVERED,
	STATEMENT_FIRST_CHANGE,
	STATEMENT_FIRST_EVENT,
	STATEMENT_FIRST_SHIFT,
	STATEMENT_SET_BACK,
	STATEMENT_CLEAR_REFUSALS,
	STATEMENT_COUNT_SHOTS_LEFT,
	STATEMENT_COUNT_EVENTS_LEFT,
	STATEMENT_PUT_REFUSAL,
	STATEMENT_DROP_REFUSAL,
	STATEMENT_BOUND_REFUSALS,
	STATEMENT_PUT_LOGGER,
	STATEMENT_CLEAR_HEALTH,
	STATEMENT_PUT_HEALTH,
	STATEMENT_CLEAR_DEVICES,
	STATEMENT_PUT_DEVICE,
	STATEMENT_COUNT
};
extern const char *const ledger_sql[STATEMENT_COUNT];

/* What putting a setup leaves behind for the shots to come. */
struct filed_setup {
	int64_t id;        /* 0: none put yet */
	char hash[17];     /* of its text */
	int64_t *lines;    /* ids, by index in settings */
	int64_t *channels; /* the same */
	bool *flows;       /* whether it measures one; the same */
	size_t channel_count;
	sqlite3_stmt *put_shot; /* with a parameter for each of `features` at the end */
	int features[FEATURE_COUNT];
	int feature_count;
};

struct ledger {
	sqlite3 *db;
	sqlite3_stmt *statements[STATEMENT_COUNT];
	struct filed_setup setup;
	struct told told;
	bool hasty; /* see ledger_set_hasty */
	int pieces; /* in the transaction that is open then */
	struct wall traces_gone, channels_gone; /* of all shots before: ledger_keep.c */
};

/* A transaction around what a caller does; ledger_end commits when `code` is 0, else
 * rolls back, and returns what became of it. */
int ledger_begin(struct ledger *ledger, struct error *error);
int ledger_end(struct ledger *ledger, int code, struct error *error);

/* The same, but what is only tried (`dry`) is taken back; never in haste. */
int ledger_end_dry(struct ledger *ledger, int code, bool dry, struct error *error);

/*
 * The same, but without waiting for the disk: a power loss may take it back, though
 * never in part.  For what is made again by itself.
 */
int ledger_begin_soft(struct ledger *ledger, struct error *error);
int ledger_end_soft(struct ledger *ledger, int code, struct error *error);

/* Starts a binding for a prepared statement. */
struct binding ledger_bind(struct ledger *ledger, enum ledger_statement statement);

/* Runs it; 0, or an error with what SQLite says. */
int ledger_run(struct ledger *ledger, struct binding *binding, struct error *error);

/* The same for a statement that is seldom needed, with integers in its places. */
int ledger_run_with(struct ledger *ledger, const char *sql, const int64_t *values,
    int count, struct error *error);

/* Runs it and reads the integer in its row; 0 when there is no row, or NULL in it. */
int ledger_integer(struct ledger *ledger, struct binding *binding, int64_t *value,
    struct error *error);

/* The change number that the next row gets; inside a transaction. */
int ledger_next_change(struct ledger *ledger, int64_t *change, struct error *error);

/* ERROR_NOT_FOUND for a line that no setup has had. */
int ledger_line_id(
    struct ledger *ledger, const char *line, int64_t *id, struct error *error);

/* A copy in the place of the ledger that it was made of: from here on its lines give
 * numbers that the lost one cannot have given.  For the daemon, once; else nothing. */
int ledger_settle_copy(struct ledger *ledger, struct wall now, struct error *error);

/* More about an error that a person meets: who may write the ledger, when that is why.
 * Returns `code`. */
int ledger_explain(struct ledger *ledger, int code, struct error *error);

void filed_setup_release(struct filed_setup *setup);

/* A column for a feature in `table`, unless it has one. */
int ledger_add_column(
    struct ledger *ledger, const char *table, int feature, struct error *error);

/* Whether a text of a person fits on file: ERROR_INVALID with `what` for one that is
 * longer than `maximum` bytes.  NULL is "". */
int ledger_check_text(
    const char *what, const char *text, size_t maximum, struct error *error);

/* --- parts of a shot, also of one that is made again ----------------------------- */

/* ERROR_INVALID for a shot that is not of the settings filed last. */
int ledger_check_shot(const struct ledger *ledger, const struct settings *settings,
    const struct shot *shot, struct error *error);

/* What goes on file for a feature: in the unit of its name, NAN with the reason. */
double ledger_filed_value(const struct shot *shot, int feature, enum absent *absent);

/* The name of a line's side; "" when it has but one, or the side is common. */
const char *ledger_side(const struct line_settings *line, int side);

int ledger_put_absences(
    struct ledger *ledger, const struct shot *shot, int64_t id, struct error *error);
int ledger_put_channels(
    struct ledger *ledger, const struct shot *shot, int64_t id, struct error *error);
int ledger_put_trace(
    struct ledger *ledger, const struct shot *shot, int64_t id, struct error *error);

/* Whether those on file are the shot's; yes, when they have been forgotten. */
int ledger_same_channels(struct ledger *ledger, const struct shot *shot, int64_t id,
    bool *same, struct error *error);
int ledger_clear_channels(struct ledger *ledger, int64_t id, struct error *error);

#endif
