/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The lines of a shift that has ended: its points as line_protocol.h describes them.  For
 * delivery and for export alike.
 *
 * One object belongs to one thread.  A call that reads blocks on the ledger.
 */
#ifndef DAEMON_PUBLISH_SHIFT_LINES_H
#define DAEMON_PUBLISH_SHIFT_LINES_H

#include "daemon/ledger/ledger_shift.h"
#include "daemon/publish/line_protocol.h"

/* Pure, as those of line_protocol.h: the point of shift_total, of shift; and their marks. */
void shift_lines_total(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *shift);
void shift_lines_row(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *shift, const struct ledger_shift_row *row);
void shift_lines_total_mark(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *earlier);
void shift_lines_row_mark(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *earlier, const struct ledger_shift_row *row);

/* Adds all lines of a shift that holds: it, its characteristics, then the marks of its
 * earlier revisions.  Errors as of the ledger; what was added then is of no use. */
int shift_lines_add(struct text *text, const struct line_protocol_form *form,
    struct ledger_read *read, const struct ledger_shift *shift, struct error *error);

#endif
