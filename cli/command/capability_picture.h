/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The values of a capability study in the order of time, with their limits and how they are
 * distributed, for pages that show pictures.  One thread. */
#ifndef CLI_COMMAND_CAPABILITY_PICTURE_H
#define CLI_COMMAND_CAPABILITY_PICTURE_H

#include "cli/command/capability_put.h"

/* What is lost for want of memory the page tells at its end. */
void capability_picture_put(struct page *page, const struct capability_view *view);

#endif
