/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * All lines of a shot: its points as line_protocol.h describes them, read from the ledger.
 * For delivery and for export alike.
 *
 * One object belongs to one thread.  A call blocks on the ledger.
 */
#ifndef DAEMON_PUBLISH_SHOT_LINES_H
#define DAEMON_PUBLISH_SHOT_LINES_H

#include "daemon/publish/line_protocol.h"

struct shot_lines {
	struct line_protocol_form form;
	struct ledger_read *read; /* lent */
	int64_t set_up;           /* whose hash that is; 0: none yet */
	char hash[17];
};

/* `read` and the site in the form are lent for as long as it is used. */
void shot_lines_init(struct shot_lines *lines, struct ledger_read *read,
    const struct line_protocol_form *form);

/*
 * Adds the lines of a shot that was read with the reasons of what is absent: the shot, its
 * words, its absences, its channels; then the marks of its earlier revisions.
 * Errors as of the ledger; what was added then is of no use.
 */
int shot_lines_add(struct shot_lines *lines, struct text *text,
    const struct ledger_shot *shot, struct error *error);

#endif
