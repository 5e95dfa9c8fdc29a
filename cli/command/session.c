/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/session.h"

#include <errno.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "cli/command/store_named.h"
#include "cli/source/source.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_lock.h"
#include "daemon/ledger/ledger_read.h"

void
session_tell_problems(const struct call *call, const struct problems *problems)
{
	size_t kept =
	    problems->count < SETTINGS_PROBLEMS ? problems->count : SETTINGS_PROBLEMS;

	for (size_t i = 0; i < kept; i++)
		fprintf(call->err, "%s\n", problems->list[i].text);
	if (problems->count > kept)
		fprintf(call->err, "... and %zu more\n", problems->count - kept);
}

enum command_exit
session_cannot(
    const struct session *session, const struct call *call, const struct error *error)
{
	enum command_exit code = command_cannot(call, error);
	char told[LEDGER_LOCK_TOLD];

	ledger_lock_told(session->path, told);
	if (*told)
		command_tell(call, "evensoakd is running: %s", told);
	return code;
}

/* The settings from `text`, or from the file `path` when it is NULL.  The mistakes are
 * told, or the first of them kept in session->refused. */
static enum command_exit
take_settings(struct session *session, const struct call *call, const char *text,
    const char *path, bool keep)
{
	struct problems *problems = calloc(1, sizeof *problems);
	struct error error;

	if (!problems) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	session->settings =
	    text ? settings_parse(text, path, problems) : settings_load(path, problems);
	if (!session->settings && keep)
		text_copy(
		    session->refused, sizeof session->refused, problems->list[0].text);
	else if (!session->settings)
		session_tell_problems(call, problems);
	free(problems);
	return session->settings ? COMMAND_DONE : COMMAND_CANNOT;
}

/* The newest set-up that the ledger holds. */
static enum command_exit
take_filed_settings(struct session *session, const struct call *call)
{
	struct error error;
	char *text = ledger_read_setup(session->ledger, 0, &error);

	if (!text)
		return command_cannot(call, &error);
	enum command_exit code =
	    take_settings(session, call, text, session->path, false);
	session->filed = true;
	free(text);
	return code;
}

/* What a command can do without. */
enum need {
	NEED_BOTH,
	NEED_LEDGER, /* the set-up of --config may have mistakes */
	NEED_SET_UP,
	NEED_SOURCE, /* with --store no ledger */
	NEED_MADE, /* the newest set-up in the ledger; one that --config names may have
	                mistakes, and for its ledger it can wait until that is made */
};

/* Nothing is wrong: there is only nothing to do yet. */
static enum command_exit
tell_not_yet(const struct call *call, const struct error *error)
{
	command_tell(call, "nothing to do yet: %s", error->text);
	return COMMAND_DONE;
}

static int
take_any_setup(void *arg, const struct ledger_setup *setup)
{
	(void)setup;
	*(bool *)arg = true;
	return 1;
}

/* The newest set-up that the ledger holds, unless it is that of --config. */
static enum command_exit
take_made_settings(struct session *session, const struct call *call)
{
	struct error error;
	bool any = false;
	int read = ledger_read_setups(session->ledger, take_any_setup, &any, &error);

	if (read == 0 && !any && !call->option[OPTION_LEDGER]) {
		error_set(&error, ERROR_NOT_FOUND,
		    "ledger '%s' has no set-up yet; evensoakd files it when it starts",
		    session->path);
		ledger_read_close(session->ledger);
		session->ledger = NULL;
		return tell_not_yet(call, &error);
	}
	char *text = read == 0 ? ledger_read_setup(session->ledger, 0, &error) : NULL;
	if (!text)
		return command_cannot(call, &error);
	enum command_exit code = COMMAND_DONE;
	if (!session->settings || strcmp(text, session->settings->text) != 0) {
		settings_free(session->settings);
		code = take_settings(session, call, text, session->path, false);
		session->filed = true;
	}
	free(text);
	return code;
}

static enum command_exit
set_zone(const struct session *session, const struct call *call)
{
	struct error error;

	return calendar_set_zone(session->settings->zone, &error) == 0
	           ? COMMAND_DONE
	           : command_cannot(call, &error);
}

/* The shots of the ledger that is open. */
static enum command_exit
take_ledger(struct session *session, const struct call *call)
{
	struct error error;

	session->source = source_of_ledger(session->ledger, session->path, &error);
	return session->source ? COMMAND_DONE : command_cannot(call, &error);
}

static enum command_exit
take_store(struct session *session, const struct call *call)
{
	struct error error;
	size_t store;
	enum command_exit code =
	    store_named_of_set_up(call, session, call->option[OPTION_STORE], &store);

	if (code != COMMAND_DONE)
		return code;
	session->source = source_of_store(session->settings, store, &error);
	return session->source ? set_zone(session, call) : command_cannot(call, &error);
}

/* For a set-up at its usual place that cannot be had, by `why`. */
static enum command_exit
cannot_have(const struct call *call, const char *config, int why)
{
	struct error error;

	if (why == EACCES)
		error_set(
		    &error, ERROR_IO, "you may not read '%s': " SESSION_JOIN, config);
	else
		error_set(&error, ERROR_NOT_FOUND,
		    "there is no '%s': say --config FILE or --ledger FILE; "
		    "'evensoak check' tells how to begin",
		    config);
	return command_cannot(call, &error);
}

static enum command_exit
open_ledger(struct session *session, const struct call *call, enum need need)
{
	const char *ledger = call->option[OPTION_LEDGER];
	enum command_exit code = COMMAND_DONE;
	struct error error;

	if (ledger || session->settings)
		text_copy(session->path, sizeof session->path,
		    ledger ? ledger : session->settings->ledger);
	if (!*session->path) {
		error_set(&error, ERROR_INVALID,
		    "'%s' has no ledger, only stores: 'evensoak report' and 'shots' "
		    "read them with --from NAME; for this, say --ledger FILE",
		    session->settings->path);
		return need == NEED_MADE ? tell_not_yet(call, &error)
		                         : command_cannot(call, &error);
	}
	session->ledger = ledger_read_open(session->path, &error);
	if (!session->ledger)
		return need == NEED_MADE && !ledger &&
		               ledger_read_is_awaited(session->path)
		           ? tell_not_yet(call, &error)
		           : session_cannot(session, call, &error);
	if (need == NEED_MADE)
		code = take_made_settings(session, call);
	else if (!session->settings)
		code = take_filed_settings(session, call);
	if (code != COMMAND_DONE || !session->ledger)
		return code;
	code = take_ledger(session, call);
	return code == COMMAND_DONE ? set_zone(session, call) : code;
}

/* Whether the set-up that --config names can be done without: the ledger has one. */
static bool
can_despite(struct session *session, const struct call *call, enum need need,
    const char *config)
{
	if (need != NEED_LEDGER && need != NEED_MADE)
		return false;
	return *session->refused && (call->option[OPTION_LEDGER] ||
					settings_load_ledger(config, session->path));
}

static enum command_exit
open_parts(struct session *session, const struct call *call, enum need need)
{
	bool despite = need == NEED_LEDGER || need == NEED_MADE;
	bool store = need == NEED_SOURCE && call->option[OPTION_STORE];
	const char *config = call->option[OPTION_CONFIG];
	const char *ledger = call->option[OPTION_LEDGER];
	enum command_exit code = COMMAND_DONE;

	if (store && ledger)
		return command_usage(call,
		    "'%s' would be a store, and '--ledger' says another place: say one "
		    "of them; '--from' with a time is like 2026-03-02T06:00",
		    call->option[OPTION_STORE]);
	/* A ledger that is named says itself what it was made under. */
	if (!config && !ledger) {
		config = SESSION_CONFIG;
		if (euidaccess(config, F_OK) != 0)
			return cannot_have(call, config, errno);
	}
	if (config)
		code = take_settings(session, call, NULL, config, despite);
	if (code != COMMAND_DONE && !can_despite(session, call, need, config)) {
		if (*session->refused)
			fprintf(call->err,
			    "evensoak: %s; evensoakd goes on with the set-up that it "
			    "has, if it runs; the path of the ledger stands in that "
			    "file: say --ledger FILE\n",
			    session->refused);
		return code;
	}
	if (code != COMMAND_DONE && (need == NEED_MADE || !ledger))
		command_tell(call, "%s; the set-up in force is used", session->refused);
	if (need == NEED_SET_UP && config)
		return set_zone(session, call);
	if (store)
		return take_store(session, call);
	return open_ledger(session, call, need);
}

static enum command_exit
run(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session),
    enum need need)
{
	struct session session = {0};
	enum command_exit code = open_parts(&session, call, need);

	if (code == COMMAND_DONE && (need != NEED_MADE || session.ledger))
		code = work(call, &session);
	source_close(session.source);
	if (session.ledger)
		ledger_read_close(session.ledger);
	settings_free(session.settings);
	return code;
}

enum command_exit
session_run(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session))
{
	return run(call, work, NEED_BOTH);
}

enum command_exit
session_run_made(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session))
{
	return run(call, work, NEED_MADE);
}

enum command_exit
session_run_source(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session))
{
	return run(call, work, NEED_SOURCE);
}

enum command_exit
session_run_despite(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session))
{
	return run(call, work, NEED_LEDGER);
}

enum command_exit
session_run_set_up(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session))
{
	return run(call, work, NEED_SET_UP);
}

enum command_exit
session_line(const struct session *session, const struct call *call, int *line)
{
	const struct settings *settings = session->settings;
	const char *name = call->option[OPTION_LINE];
	const char *names[SETTINGS_LINES];

	*line = -1;
	if (!name)
		return COMMAND_DONE;
	*line = settings_find_line(settings, name);
	if (*line >= 0)
		return COMMAND_DONE;
	for (size_t i = 0; i < settings->line_count; i++)
		names[i] = settings->lines[i].name;
	const char *near = text_nearest(name, names, settings->line_count);
	return command_usage(call, "there is no line '%s'%s%s%s", name,
	    near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
}

enum command_exit
session_one_line(const struct session *session, const struct call *call, int *line)
{
	const struct settings *settings = session->settings;
	enum command_exit code = session_line(session, call, line);

	if (code != COMMAND_DONE || *line >= 0)
		return code;
	if (settings->line_count == 1) {
		*line = 0;
		return COMMAND_DONE;
	}
	if (settings->line_count == 0)
		return command_usage(call,
		    "'%s' has no line: give the configuration of the line's own PC",
		    settings->path);
	return command_usage(call, "say which line: --line %s, or another of %zu",
	    settings->lines[0].name, settings->line_count);
}
