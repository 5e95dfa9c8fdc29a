/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The complete shots of one kind in a time, held against a reference run. */
#ifndef CLI_COMMAND_COMPARE_KIND_H
#define CLI_COMMAND_COMPARE_KIND_H

#include "cli/command/compare_basis.h"
#include "cli/command/found_series.h"
#include "cli/report/report_compare.h"

struct error;

enum { COMPARE_TROUBLE = 900, COMPARE_HASHES = 8 };

/* Set points that shots began their heat with. */
struct compare_set_points {
	uint64_t hashes[COMPARE_HASHES];
	size_t count;
	bool more;
	int64_t shot; /* the id of the last one that had some; 0: none had */
};
void compare_set_points_add(
    struct compare_set_points *set_points, const struct ledger_shot *shot);

struct compare_kind {
	struct kind kind;
	struct found_series series;
	struct compare_setups setups;
	struct compare_set_points set_points;

	/* made by compare_kind_judge */
	struct reference_known reference; /* id 0: there is none */
	char trouble[COMPARE_TROUBLE];    /* why nothing is compared; "" */
	size_t own;                       /* shots left out: the reference's own */
	struct comparison *list;
	size_t count;
	struct report_compare_refused *refused;
	size_t refused_count;
	struct report_compare_set_point *set_point_list;
	size_t set_point_count;
	char set_point_words[COMPARE_TROUBLE];
};

struct compare_kind_asked {
	const struct session *session;
	int line;
	const char *reference; /* its name; NULL: the newest of the kind */
	int feature;           /* this one alone; -1: all */
	double margin;         /* in the unit of its name; NAN: the usual one */
};

/* 0, or the error. */
int compare_kind_judge(struct compare_kind *kind,
    const struct compare_kind_asked *asked, struct error *error);
void compare_kind_release(struct compare_kind *kind);

/* For compare_kind alone: which set points differ. */
int compare_set_points_judge(struct compare_kind *kind,
    const struct compare_kind_asked *asked, struct error *error);

#endif
