/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The program of [notify] in a set-up, for `check`: what is run on what, and whether it
 * can be.  One thread; looks at the disk.
 */
#ifndef CLI_COMMAND_CHECK_NOTIFY_H
#define CLI_COMMAND_CHECK_NOTIFY_H

#include "conf/program_file.h"
#include "daemon/base/error.h"

struct page;
struct settings;

/* As far as this account can see: it need not be the service's. */
struct check_notify {
	enum program_verdict verdict; /* PROGRAM_GOOD: or there is none */
	struct error error;           /* what is wrong or doubted */
};
void check_notify_look(struct check_notify *check, const struct settings *settings);

/* The part of the page; nothing of it without [notify]. */
void check_notify_put(struct page *page, const struct settings *settings,
    const struct check_notify *check);

#endif
