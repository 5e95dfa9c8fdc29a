/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a study says of the course of time, for people.  One thread. */
#ifndef CLI_COMMAND_CAPABILITY_COURSE_H
#define CLI_COMMAND_CAPABILITY_COURSE_H

#include "cli/command/capability_put.h"

/* Stability, patterns, charts with a memory, and whether values depend on the last. */
void capability_put_course(struct page *page, const struct capability_view *view);

#endif
