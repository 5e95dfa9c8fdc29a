/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The findings of a run as they are collected: those that the run was asked about, each
 * subject once however often it came and went.  One thread an object.
 */
#ifndef CLI_FINDINGS_GATHERED_H
#define CLI_FINDINGS_GATHERED_H

#include "cli/findings/findings.h"

struct run;

/* Usual shots of a run. */
struct span {
	size_t first, end; /* end: one past the last */
};

struct gathered {
	struct span asked;
	struct gathered_one *list;
	size_t count, room;
};

/* Takes a finding that shows in `span`; nothing when that was not asked about.  False: no
 * memory. */
bool gathered_add(
    struct gathered *told, const struct finding *finding, struct span span);

/* Joins what is of one subject, and writes as findings_judge does. */
size_t gathered_write(struct gathered *told, struct finding *findings, size_t room);

void gathered_release(struct gathered *told);

/* Tells what no cause has explained (disagree.c).  False: no memory. */
bool disagree_tell(struct run *run, struct gathered *told);

#endif
