/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is known of a lot, measured or told: read from the command line, filed, shown. */
#ifndef CLI_COMMAND_CONTEXT_LOT_H
#define CLI_COMMAND_CONTEXT_LOT_H

#include "cli/command/session.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>

struct error;

/* What the command line says of a lot: NAN and "" where it says nothing, or takes back what
 * was said. */
struct lot_said {
	struct ledger_lot lot;
	bool thickness, stack, material; /* said, or taken back */
};

/* Reads --thickness, --stack and --material; "" takes back.  COMMAND_USAGE after telling
 * when one is no measure, none that a sheet can have, or no material of the set-up. */
enum command_exit context_lot_read(
    const struct call *call, const struct settings *settings, struct lot_said *said);

/* Whether anything was said. */
bool context_lot_given(const struct lot_said *said);

/* Puts what is known beside what is new: of what nothing is said, that stays.  Tells of what
 * replaces another.  `*relabelled` is how many shots got another material.  0 or the ledger's
 * error. */
int context_lot_put(const struct call *call, struct ledger *ledger,
    const struct session *session, const struct lot_said *said, int64_t *relabelled,
    struct error *error);

/* Where something is known of the lot, or was taken back: tells how many shots it has on file, and what takes
 * that into them.  Trouble here is not told: the lot is on file. */
void context_lot_remark_earlier(const struct call *call, const struct session *session,
    const struct lot_said *said);

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
