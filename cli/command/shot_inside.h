/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What was computed of a shot's sheet and of the tool's water, put together for people.
 * Pure; any thread.
 */
#ifndef CLI_COMMAND_SHOT_INSIDE_H
#define CLI_COMMAND_SHOT_INSIDE_H

#include "cli/page/page.h"
#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"

#include <stdbool.h>

/* Machines get "inside", where there is any, and "circuits". */
void shot_inside_put(
    struct page *page, const struct settings *settings, const struct ledger_shot *shot);

/* Whether that shows people the value of a feature. */
bool shot_inside_shows(const struct ledger_shot *shot, int feature);

#endif
