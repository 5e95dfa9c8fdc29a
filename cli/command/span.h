/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which time a command is about: --shift and --date, --from and --to, or --since.
 */
#ifndef CLI_COMMAND_SPAN_H
#define CLI_COMMAND_SPAN_H

#include "cli/command/session.h"
#include "daemon/base/clock.h"

#include <stdbool.h>

struct error;

enum { SPAN_TITLE = 128 };

struct span {
	bool given;                /* the command line says a time */
	struct wall from, to;      /* from <= t < to; ns 0: open */
	char shift[SETTINGS_NAME]; /* "" when it is none */
	char title[SPAN_TITLE];    /* "shift early of 2026-03-02" */
};

/* The options that say which. */
#define SPAN_OPTIONS                                          \
	(OPTION_BIT(OPTION_SHIFT) | OPTION_BIT(OPTION_DATE) | \
	    OPTION_BIT(OPTION_FROM) | OPTION_BIT(OPTION_TO) | \
	    OPTION_BIT(OPTION_SINCE))

/*
 * Reads the options.  COMMAND_DONE with `given` false when there are none.
 * COMMAND_USAGE or COMMAND_CANNOT after telling.  `line` NULL: all lines (they decide
 * which shot is the newest, for a shift without a date).
 */
enum command_exit span_read(struct span *span, const struct session *session,
    const struct call *call, const char *line);

/*
 * The latest shift that has shots; the day of the newest shot when that lies in no
 * shift.  COMMAND_NO after telling when there are no shots at all.
 */
enum command_exit span_latest(struct span *span, const struct session *session,
    const struct call *call, const char *line);

/* Reads the time of an option: COMMAND_USAGE after telling when it is none.  Of a local
 * time that comes twice it tells which one is taken. */
enum command_exit span_read_time(
    const struct call *call, enum option_id option, struct wall *wall);

/* "7d", "12h", "90m", "60s" as seconds; false when it is none. */
bool span_parse_seconds(const char *text, double *seconds);

#endif
