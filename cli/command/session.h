/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a command that reads the ledger stands on: the set-up and the open ledger, found
 * by the options --config and --ledger, or in place of the ledger a store, by --store.
 * Sets the process's time zone.
 */
#ifndef CLI_COMMAND_SESSION_H
#define CLI_COMMAND_SESSION_H

#include "cli/command/command.h"
#include "conf/settings.h"
#include "daemon/base/clock.h"

struct error;
struct ledger_read;
struct source;

#define SESSION_CONFIG "/etc/evensoak/evensoak.ini"

/* For who may not read it. */
#define SESSION_JOIN                                                        \
	"members of the group evensoak may read it: sudo adduser YOURSELF " \
	"evensoak, then log in anew"

struct session {
	struct settings *settings;
	struct ledger_read *ledger; /* NULL: not opened */
	struct source *source;    /* shots: of the ledger, or of a store; NULL: none */
	char path[SETTINGS_PATH]; /* of the ledger */
	bool filed;               /* the set-up is the newest one in the ledger */
	char refused[1024];       /* the first mistake of the one that --config names,
	                             which is then not used; "" */
};

/* Opens both, lends them to `work` and closes them again.  What `work` says, or
 * COMMAND_CANNOT after the reason was told. */
enum command_exit session_run(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session));

/* The same by the newest set-up in the ledger, also while that of --config is another or has
 * mistakes, see session->refused.  Where --config names no ledger, or evensoakd has still to
 * make it or to bring it up to date, that is told and COMMAND_DONE, and there is no work. */
enum command_exit session_run_made(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session));

/* The same as the first; with --store the set-up of --config and that store, session->ledger is NULL. */
enum command_exit session_run_source(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session));

/* The same as the first, but the set-up that --config names may have mistakes: then the newest
 * one in the ledger holds, that of --ledger or else of the file, and session->refused says
 * why; without --ledger it is told too. */
enum command_exit session_run_despite(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session));

/* The set-up alone: with --config, or without --ledger, session->ledger is NULL. */
enum command_exit session_run_set_up(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session));

/* For a ledger that cannot be read: tells that, and what a daemon that runs for all that
 * says of it; COMMAND_CANNOT. */
enum command_exit session_cannot(
    const struct session *session, const struct call *call, const struct error *error);

/* Tells every mistake there is, a line each. */
void session_tell_problems(const struct call *call, const struct problems *problems);

/*
 * The index of the line that --line names.  -1 for all when it is not given;
 * COMMAND_USAGE after telling when there is no such line.
 */
enum command_exit session_line(
    const struct session *session, const struct call *call, int *line);

/* The same where one line must be meant: with a single line --line may be left out. */
enum command_exit session_one_line(
    const struct session *session, const struct call *call, int *line);

#endif
