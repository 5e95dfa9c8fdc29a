/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The calibrations that hold for a shot, and whether it was made with them.
 */
#ifndef CLI_COMMAND_SHOT_CALIBRATED_H
#define CLI_COMMAND_SHOT_CALIBRATED_H

#include "cli/command/session.h"
#include "daemon/base/clock.h"

#include <stddef.h>

struct error;
struct ledger_shot;
struct page;

struct shot_calibrated_row;

struct shot_calibrated {
	struct shot_calibrated_row *rows; /* by channel of the settings */
	size_t count;
	int64_t known;    /* channels with a calibration that holds */
	struct wall made; /* when the record became what it is */
};

/* Release in either case. */
int shot_calibrated_read(struct shot_calibrated *calibrated,
    const struct session *session, const struct ledger_shot *shot, struct error *error);
void shot_calibrated_release(struct shot_calibrated *calibrated);

/* Nothing for people when there are none. */
void shot_calibrated_put(struct page *page, const struct shot_calibrated *calibrated,
    const struct session *session, const struct ledger_shot *shot);

/* What was added to the readings of "device.channel" as the record was made, in the
 * inside's unit; NAN: nothing. */
double shot_calibrated_correction(const struct shot_calibrated *calibrated,
    const struct session *session, const char *name);

#endif
