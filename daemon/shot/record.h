/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The record of a sheet that has left: its shot, made from its way and the readings that
 * were taken meanwhile.  The tracker makes it once, a recompute makes it again.
 * Pure: the same sheet and readings give the same record, bit for bit.
 */
#ifndef DAEMON_SHOT_RECORD_H
#define DAEMON_SHOT_RECORD_H

#include "daemon/shot/features.h"

/* Fills everything of `shot` (room for roles->all_count channels) but line, shot_no and
 * trace; `shot->side` must be set.  source->sheet is read only. */
void record_make(const struct feature_source *source, struct shot *shot);

#endif
