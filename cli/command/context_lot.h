/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What was measured of a lot: read from the command line, filed, shown. */
#ifndef CLI_COMMAND_CONTEXT_LOT_H
#define CLI_COMMAND_CONTEXT_LOT_H

#include "cli/command/session.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>

struct error;

/* Reads --thickness and --stack into the lot's figures, NAN where they are not given.
 * COMMAND_USAGE after telling when one is no measure. */
enum command_exit context_lot_read(const struct call *call, struct ledger_lot *lot);

/* Whether anything was measured. */
bool context_lot_given(const struct ledger_lot *lot);

/* Puts what is known beside what is new: a figure that is not given stays.  Tells of one
 * that replaces another, and of a thickness that hardly is one of a sheet.  0 or the
 * ledger's error. */
int context_lot_put(const struct call *call, struct ledger *ledger,
    const struct session *session, const struct ledger_lot *lot, struct error *error);

/* Fields "lot_thickness_m" and "lot_stack_c" of a page; people read them where they are
 * known. */
void context_lot_fields(
    struct page *page, const struct settings *settings, const struct ledger_lot *lot);

/* As cells. */
struct cell context_lot_thickness(
    const struct settings *settings, const struct ledger_lot *lot);
struct cell context_lot_stack(
    const struct settings *settings, const struct ledger_lot *lot);

#endif
