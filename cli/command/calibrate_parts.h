/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The parts of the command `calibrate`, and what they share.
 */
#ifndef CLI_COMMAND_CALIBRATE_PARTS_H
#define CLI_COMMAND_CALIBRATE_PARTS_H

#include "cli/command/session.h"

#include <stddef.h>

struct ledger_calibration;

/* What was entered. */
enum command_exit calibrate_list(
    const struct call *call, const struct session *session);

/* What somebody found of one channel. */
enum command_exit calibrate_enter(
    const struct call *call, const struct session *session);

/* Offsets from a run without sheets: live, or from the file that is the second argument.
 * Only entering needs the ledger. */
enum command_exit calibrate_offsets(
    const struct call *call, const struct session *session);

/* Reads --at (now without it), --due, --by and --reference into a row, with remarks on
 * what is odd; COMMAND_USAGE after telling.  Lends the options' strings. */
enum command_exit calibrate_read_row(
    const struct call *call, struct ledger_calibration *row);

/* Files the rows, all or, after telling, none. */
enum command_exit calibrate_put(const struct call *call, const struct session *session,
    struct ledger_calibration *rows, size_t count);

#endif
