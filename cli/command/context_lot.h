/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is known of a lot, measured or told: read from the command line, filed, shown. */
#ifndef CLI_COMMAND_CONTEXT_LOT_H
#define CLI_COMMAND_CONTEXT_LOT_H

#include "cli/command/session.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>

struct error;

/* Reads --thickness, --stack and --material into the lot's figures, NAN and "" where they
 * are not given.  COMMAND_USAGE after telling when one is no measure, or no material of the
 * set-up. */
enum command_exit context_lot_read(
    const struct call *call, const struct settings *settings, struct ledger_lot *lot);

/* Whether anything was given. */
bool context_lot_given(const struct ledger_lot *lot);

/* Puts what is known beside what is new: a figure that is not given stays.  Tells of one
 * that replaces another, and of a thickness that hardly is one of a sheet.  0 or the
 * ledger's error. */
int context_lot_put(const struct call *call, struct ledger *ledger,
    const struct session *session, const struct ledger_lot *lot, struct error *error);

/* Where something is known of the lot: tells how many shots it has on file, and what takes
 * that into them.  Trouble here is not told: the lot is on file. */
void context_lot_remark_earlier(const struct call *call, const struct session *session,
    const struct ledger_lot *lot);

/* Fields "lot_thickness_m", "lot_stack_c" and "lot_material" of a page; people read them
 * where they are known. */
void context_lot_fields(
    struct page *page, const struct settings *settings, const struct ledger_lot *lot);

/* As cells. */
struct cell context_lot_thickness(
    const struct settings *settings, const struct ledger_lot *lot);
struct cell context_lot_stack(
    const struct settings *settings, const struct ledger_lot *lot);
struct cell context_lot_material(const struct ledger_lot *lot);

#endif
