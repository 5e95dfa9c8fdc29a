/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What comes after `check`: the next step of a first installation, or of a change.  One
 * thread.
 */
#ifndef CLI_COMMAND_CHECK_NEXT_H
#define CLI_COMMAND_CHECK_NEXT_H

#include "cli/command/command.h"

#include <stdbool.h>

struct page;
struct settings;

/* How to come by a set-up, where there is no file at `path`, or by the right to read it;
 * nothing where it can be read. */
void check_next_tell_missing(const struct call *call, const char *path);

/* For a set-up without a mistake, as a remark: by whether a daemon runs on its ledger, and
 * with this text; `live`: its channels have just been read, so that this is not advised. */
void check_next_put(struct page *page, const struct settings *settings, bool live);

#endif
