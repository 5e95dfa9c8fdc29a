/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a capability study rests on, for people: the methods that were used, and what to
 * know of the values.  One thread. */
#ifndef CLI_COMMAND_CAPABILITY_REMARKS_H
#define CLI_COMMAND_CAPABILITY_REMARKS_H

#include "cli/command/capability_put.h"

void capability_put_remarks(struct page *page, const struct capability_view *view);

#endif
