/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A capability study on a page: every figure under its key for machines, and for people
 * what it comes to, what to do, and what that rests on.  One thread.
 */
#ifndef CLI_COMMAND_CAPABILITY_PUT_H
#define CLI_COMMAND_CAPABILITY_PUT_H

#include "cli/command/command.h"
#include "cli/stats/study.h"

struct capability_view {
	const struct study *study;
	const struct study_asked *asked;
	const char *title;  /* of the column, the name of the feature */
	const char *source; /* "shots.csv", "line demo, the last 365 d" */
	const char *noun;   /* what one value is of: "shot", "value" */
	const char *unit;   /* that people read; "": the column's own */
	/* What people read of a value is value * scale + offset, of a deviation the same
	 * without the offset. */
	double scale, offset;
	size_t empty_at_end; /* lines of the file */
	size_t left_out;     /* shots that are not complete */
};

/* The table that --format csv writes. */
#define CAPABILITY_CSV "capability"

/* "capable", "not-capable", "not-established". */
const char *capability_verdict_name(enum study_verdict verdict);

void capability_put_machines(struct page *page, const struct capability_view *view);
void capability_put_row(struct page *page, const struct capability_view *view);
void capability_put_people(struct page *page, const struct capability_view *view);

struct progress;
/* The study of view->asked (view->study is not looked at) on a page of its own: COMMAND_DONE,
 * COMMAND_NO when it is not capable, COMMAND_CANNOT after telling.  Ends the progress. */
enum command_exit capability_study_put(const struct call *call,
    const struct capability_view *view, struct progress **progress);

#endif
