/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What report finds against the same reference, in one sentence. */
#ifndef CLI_COMMAND_COMPARE_FOUND_H
#define CLI_COMMAND_COMPARE_FOUND_H

#include "cli/command/found.h"

/* The sure and likely findings of a kind: "found"; nothing where there are none. */
void compare_found_put(
    struct page *page, const struct found_all *all, const struct kind *kind);

#endif
