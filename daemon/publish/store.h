/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What differs from one kind of store to the next: where lines are written to and
 * what its answers mean.  Pure.
 */
#ifndef DAEMON_PUBLISH_STORE_H
#define DAEMON_PUBLISH_STORE_H

#include "conf/settings.h"

struct error;
struct text;

/*
 * The whole URL that lines are posted to.  ERROR_INVALID when the one in the
 * settings cannot be meant; a password in it is refused, as URLs are shown.
 */
int store_write_url(
    const struct store_settings *store, struct text *url, struct error *error);

enum store_answer {
	STORE_TAKEN,     /* on its disk: the cursor may move */
	STORE_LATER,     /* not now: the same again in a while */
	STORE_CLOSED,    /* not with these settings: a person has to do something */
	STORE_TOO_LARGE, /* fewer lines at once */
	STORE_BAD_LINES, /* at least one line is refused; any other may be stored */
};
enum store_answer store_answer(enum store_kind kind, int status);

#endif
