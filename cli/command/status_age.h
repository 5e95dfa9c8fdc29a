/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How old the rows are in which the daemon tells how it is, for `status`: a daemon whose
 * disk is full cannot write them.  One thread.
 */
#ifndef CLI_COMMAND_STATUS_AGE_H
#define CLI_COMMAND_STATUS_AGE_H

#include "cli/command/session.h"
#include "daemon/base/clock.h"

#include <stdbool.h>

struct error;

struct status_age {
	struct wall at;      /* of the newest row; ns 0: there is none */
	struct wall started; /* the daemon, by its own clock */
	bool stale;          /* a daemon that runs has not written lately */
};

/* `current`: the rows are of the daemon that runs. */
int status_age_read(struct status_age *age, const struct session *session, bool current,
    struct error *error);

/* The heading of stale rows. */
enum { STATUS_AGE_TEXT = 96 };
void status_age_text(const struct status_age *age, char text[static STATUS_AGE_TEXT]);

#endif
