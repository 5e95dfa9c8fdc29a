/* SPDX-License-Identifier: GPL-3.0-or-later */
/* A device on the page of a watched line: how it answers, and its channels; for people
 * the positions of one role (24 zones) in one row.  Pure. */
#ifndef CLI_COMMAND_WATCH_CHANNELS_H
#define CLI_COMMAND_WATCH_CHANNELS_H

#include "cli/command/watch_view.h"

void watch_channels_put(
    struct page *page, const struct watch_view *view, uint32_t device);

#endif
