/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What shifts, days, dates and holidays of a set-up come to. */
#ifndef CLI_COMMAND_CHECK_SHIFTS_H
#define CLI_COMMAND_CHECK_SHIFTS_H

#include "cli/page/page.h"
#include "daemon/base/calendar.h"

struct settings;

/* The shifts that start on each of the seven days from `first` on; the process's time zone is the
 * site's. */
void check_shifts_put(
    struct page *page, const struct settings *settings, struct calendar_date first);

/* A shift that ends when it starts, as an item of a list of notes. */
void check_shifts_put_notes(struct page *page, const struct settings *settings);

#endif
