/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The ledger, read: for the reports and for delivery.
 *
 * Opened read-only, so nothing can be written by accident.  No transaction is
 * held open between calls into the callbacks' batches: a reader never keeps the
 * WAL from being cut for long.  One object belongs to one thread.
 */
#ifndef DAEMON_LEDGER_LEDGER_READ_H
#define DAEMON_LEDGER_LEDGER_READ_H

#include "conf/feature.h"
#include "daemon/base/clock.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/shot.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct ledger_read;

enum { LEDGER_NAME = 64 };

/* NULL with the sentence in `error`: not there (says how to make one), no permission,
 * not a ledger, too new. */
struct ledger_read *ledger_read_open(const char *path, struct error *error);
/* Whether that fails only because evensoakd has still to make it, or to bring it up to date. */
bool ledger_read_is_awaited(const char *path);
void ledger_read_close(struct ledger_read *ledger);

/* A shot as it is on file.  Values in the unit of the feature's name (see
 * feature_from_si); NAN with a reason when absent. */
struct ledger_shot {
	int64_t id, change, setup, shot_no;
	int64_t revision;    /* 0; one more whenever it is labelled or made anew */
	int64_t cycle_count; /* -1 unknown */
	char line[LEDGER_NAME], recipe[LEDGER_NAME]; /* the recipe's number */
	char tool[LEDGER_NAME], lot[LEDGER_NAME],
	    material[LEDGER_NAME]; /* "": unknown */
	struct wall filed_at;      /* shot_time */
	struct wall loaded_at, heat_start_at, heat_end_at, form_start_at, form_end_at,
	    closed_at;
	enum shot_outcome outcome;
	uint32_t flags;
	char reason[128];
	char side[LEDGER_NAME];           /* of the machine; "": it has but one */
	uint64_t set_points;              /* hash; 0: none were read */
	char properties[2 * LEDGER_NAME]; /* see struct shot; "": none */
	double uncertainty_s;
	double value[FEATURE_COUNT];
	unsigned char absent[FEATURE_COUNT];
};

/* Which shots, in what order.  Zeroed: all, by change number. */
struct ledger_filter {
	const char *line;     /* NULL: all */
	struct wall from, to; /* from <= filed_at < to; ns 0: open */
	int64_t after_change; /* only later changes */
	int64_t shot_no;      /* 0: all */
	size_t limit;         /* 0: all */
	bool newest_first;    /* by filed_at descending, with limit: the last ones */
	bool by_time;         /* by filed_at; a span of time is found fast only so */
	/* The features to read, NULL: all; the others stay absent.  Few are faster. */
	const int *features;
	size_t feature_count;
	/* Only id, change, line, filed_at, outcome, flags and the features: fastest. */
	bool values_only;
	/* With values_only: shot_no, recipe, tool and lot as well.  A ledger's alone. */
	bool labels;
};

/*
 * Calls `take` for every shot that the filter lets through; a return other than 0
 * ends it and is no error.  Without `reasons` every missing value is
 * ABSENT_NOT_CONFIGURED.  The shot is lent until `take` returns.  By change number, a
 * shot that is labelled anew meanwhile comes twice.
 */
int ledger_read_shots(struct ledger_read *ledger, const struct ledger_filter *filter,
    bool reasons, int (*take)(void *arg, const struct ledger_shot *shot), void *arg,
    struct error *error);

/* The channels of a shot. */
struct ledger_channel {
	char device[LEDGER_NAME], channel[LEDGER_NAME], role[LEDGER_NAME];
	double min, mean, max, sd, last, coverage; /* SI; NAN when absent */
	enum absent absent;
};
int ledger_read_channels(struct ledger_read *ledger, int64_t shot_id,
    int (*take)(void *arg, const struct ledger_channel *channel), void *arg,
    struct error *error);

/* What the shot went by before each of its revisions but the last, oldest first. */
struct ledger_superseded {
	int64_t revision;
	char recipe[LEDGER_NAME], tool[LEDGER_NAME], material[LEDGER_NAME];
	enum shot_outcome outcome;
};
int ledger_read_superseded(struct ledger_read *ledger, int64_t shot_id,
    int (*take)(void *arg, const struct ledger_superseded *superseded), void *arg,
    struct error *error);

/*
 * The channels that it had points of in an earlier revision, by what they were called and
 * for then; without numbers.  Of a revision whose channels had been forgotten by its end
 * all those that the line ever had, for it is not known which.  None for a revision that
 * is not in ledger_read_superseded.
 */
int ledger_read_superseded_channels(struct ledger_read *ledger, int64_t shot_id,
    int64_t revision, int (*take)(void *arg, const struct ledger_channel *channel),
    void *arg, struct error *error);

/* The change number that a shot has now; 0 when there is no such shot (any more).  Asked
 * behind all else that is read of a shot: if it is still that of its row, all of it belongs
 * together, for nothing of a shot changes without it (but that its channels, its trace or
 * the whole of it are forgotten). */
int ledger_read_change(
    struct ledger_read *ledger, int64_t shot_id, int64_t *change, struct error *error);

/* The trace of a shot, the caller frees; NULL and 0 when there is none (any more). */
int ledger_read_trace(struct ledger_read *ledger, int64_t shot_id, void **bytes,
    size_t *byte_count, struct error *error);

/* The set-up that the readings in it were taken under: the shot itself may be made again
 * under another.  0 when there is no trace. */
int ledger_read_trace_setup(
    struct ledger_read *ledger, int64_t shot_id, int64_t *setup, struct error *error);

/* A value that a shot had before it was made again; newest first, then by name. */
struct ledger_earlier {
	int64_t change, setup; /* that it was made under */
	struct wall until;     /* when it was replaced */
	char
	    feature[LEDGER_NAME]; /* "outcome", "properties": `text` is the earlier one;
	                    LEDGER_NOT_CONFIGURED: `value` features, named on file */
	double value;             /* in the unit of the feature's name; NAN absent */
	char text[2 * LEDGER_NAME]; /* that, or why a feature was absent */
};
int ledger_read_earlier(struct ledger_read *ledger, int64_t shot_id,
    int (*take)(void *arg, const struct ledger_earlier *earlier), void *arg,
    struct error *error);

/* What is known of a lot; both numbers NAN and no material when nothing is.  `name` is
 * lent. */
int ledger_read_lot(struct ledger_read *ledger, const char *name,
    struct ledger_lot *lot, struct error *error);

/* The same as it had been entered by the time `at`. */
int ledger_read_lot_at(struct ledger_read *ledger, const char *name, struct wall at,
    struct ledger_lot *lot, struct error *error);

/* As ledger_circumstances, and as things stand now. */
int ledger_read_circumstances(struct ledger_read *ledger,
    const struct ledger_question *question, double *correction,
    struct circumstances *circumstances, struct error *error);

/* Calibrations of a line (NULL: all), by channel and `at`; strings lent to `take`. */
int ledger_read_calibrations(struct ledger_read *ledger, const char *line,
    int (*take)(void *arg, const struct ledger_calibration *calibration), void *arg,
    struct error *error);

/* Reference runs, the newest first; strings lent to `take`. */
int ledger_read_references(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_reference *reference), void *arg,
    struct error *error);

/* The shots of one, in the order of their time; lent to `take`. */
int ledger_read_reference_shots(struct ledger_read *ledger, int64_t id,
    int (*take)(void *arg, const struct ledger_reference_shot *shot), void *arg,
    struct error *error);

struct ledger_event {
	int64_t change;
	char line[LEDGER_NAME], kind[LEDGER_NAME];
	struct wall at;
	char text[256];
};
int ledger_read_events(struct ledger_read *ledger, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *event), void *arg,
    struct error *error);

struct ledger_context {
	char line[LEDGER_NAME], key[LEDGER_NAME], value[256];
	struct wall from, entered;
};
int ledger_read_context(struct ledger_read *ledger, const char *line,
    int (*take)(void *arg, const struct ledger_context *context), void *arg,
    struct error *error);

/* The strings are lent until `take` returns. */
int ledger_read_health(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_health *health), void *arg,
    struct error *error);
int ledger_read_devices(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_device *device), void *arg,
    struct error *error);

/* The ring of a destination beyond `after`, in order; lent to `take`.  Numbers that are
 * missing were dropped. */
int ledger_read_readings(struct ledger_read *ledger, const char *destination,
    int64_t after, int (*take)(void *arg, const struct ledger_reading *reading),
    void *arg, struct error *error);

/* ERROR_NOT_FOUND when no daemon has told yet. */
int ledger_read_logger(
    struct ledger_read *ledger, struct ledger_logger *logger, struct error *error);

/* The hash of the text of a configuration on file, as settings->hash. */
int ledger_read_setup_hash(struct ledger_read *ledger, int64_t setup,
    char hash[static 17], struct error *error);

/* The text of a configuration on file (setup 0: the newest); the caller frees. */
char *ledger_read_setup(struct ledger_read *ledger, int64_t setup, struct error *error);

/* The configurations that were in force, the oldest first, each with when it was filed; lent
 * to `take`. */
struct ledger_setup {
	int64_t id;
	struct wall filed;
	char program[LEDGER_NAME]; /* the version that filed it */
	char hash[17];
};
int ledger_read_setups(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_setup *setup), void *arg,
    struct error *error);

/* Every definition that a feature ever had, by name and version: shots made under `setup` and
 * later ones are of it, until the next version's.  Those of features that this version of
 * the program does not know are left out. */
struct ledger_definition {
	int feature, version;
	int64_t setup;
	struct wall since; /* that was filed */
};
int ledger_read_definitions(struct ledger_read *ledger,
    int (*take)(void *arg, const struct ledger_definition *definition), void *arg,
    struct error *error);

/* How much a destination has still to get, and how many lines it refused. */
int ledger_read_backlog(struct ledger_read *ledger, const char *destination,
    int64_t *shots, int64_t *refused, struct error *error);

struct ledger_summary {
	int64_t shots, events, bytes; /* bytes of the file with its WAL */
	struct wall first, last;      /* filed_at */
	bool daemon_running;          /* somebody holds the lock */
	/* Rows of health and of devices are of the run that holds it, not of an earlier
	 * one; false when there are none, or nobody holds it. */
	bool health_current;
};
int ledger_read_summary(
    struct ledger_read *ledger, struct ledger_summary *summary, struct error *error);

#endif
