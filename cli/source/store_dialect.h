/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a family of stores is asked, and how its answers are read: forms to be posted and
 * JSON documents.  Pure: nothing here asks anybody.
 */
#ifndef CLI_SOURCE_STORE_DIALECT_H
#define CLI_SOURCE_STORE_DIALECT_H

#include "cli/source/answered.h"
#include "daemon/base/text.h"

#include <jansson.h>

enum store_subject {
	SUBJECT_SHOTS,
	SUBJECT_ABSENCES, /* the reasons of shots that were brought */
	SUBJECT_EDGE, /* when the first or last shot of a span was; half a minute may lack */
	SUBJECT_AMOUNT, /* how many shots a span has, each revision; the newest may lack */
	SUBJECT_LINES,
	SUBJECT_EVENTS,
	SUBJECT_SHIFTS,   /* that have ended, each revision, in the form of events */
	SUBJECT_CHANNELS, /* of one shot */
	SUBJECT_COUNT
};

struct store_question {
	const char *site;
	const char *label;    /* of the points, db; "": they have none */
	const char *line;     /* NULL: all */
	int64_t from_s, to_s; /* whole seconds of the points: from_s <= t < to_s */
	const int *features;  /* of shots; NULL: all */
	size_t feature_count;
	bool values_only; /* see struct ledger_filter */
	bool first;       /* of the two edges */
	int64_t now_s;
	int64_t shot_no; /* 0: all */
	bool reasons;
	/* the one shot that channels are asked of */
	int64_t point_ns, revision;
};

struct store_subject_traits {
	const char
	    *path; /* as store_query_url takes it; NULL: it comes with the shots */
	void (*ask)(struct text *form, const struct store_question *question);
	/* Reads one document; as json_lines' `take`, `arg` the struct answered. */
	int (*take)(void *arg, const json_t *document, struct error *error);
};

struct store_dialect {
	bool always_speaks; /* an answer has a document, also when there is nothing */
	struct store_subject_traits subjects[SUBJECT_COUNT];
};

extern const struct store_dialect influx_dialect, victoria_dialect;

/* Whether a question wants only some of the fields: then these, by point_name. */
bool store_question_is_picky(const struct store_question *question);
bool store_question_wants(const struct store_question *question, int field);

/* The time of the points of a shot. */
int64_t store_point_ns(const struct ledger_shot *shot);

/* The string member of a JSON object, "" when there is none. */
const char *store_json_text(const json_t *object, const char *name);

/* "unexpected"; the code. */
int store_not_understood(struct error *error);

#endif
