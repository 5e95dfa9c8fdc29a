/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_verify.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/progress.h"
#include "cli/command/session.h"
#include "cli/command/store_named.h"
#include "cli/command/verify.h"
#include "cli/command/verify_view.h"
#include "cli/source/source.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { DAYS_BACK = 30 };

/* So long a VictoriaMetrics may have points that it does not show yet: it keeps back what
 * is of the last 30 s (-search.latencyOffset), and what came just now. */
static const int64_t HIDDEN_NS = INT64_C(120) * CLOCK_SECOND_NS;

/* --- what to look at ------------------------------------------------------------------------ */

struct names {
	char (*list)[LEDGER_NAME];
	size_t count;
	bool failed;
};

static int
take_line(void *arg, const char *line)
{
	struct names *names = arg;
	char(*list)[LEDGER_NAME] =
	    reallocarray(names->list, names->count + 1, sizeof *list);

	if (!list) {
		names->failed = true;
		return 1;
	}
	names->list = list;
	text_copy(list[names->count++], LEDGER_NAME, line);
	return 0;
}

struct verifying {
	const struct call *call;
	const struct session *session;
	struct names lines;
	const char *line; /* the one that is asked for; NULL: all */
	struct wall from, to;
	struct progress *progress;
	struct page *page;
	bool missing, failed; /* of any store; one could not be read */
};

/* Those that have shots in the ledger, or the one that is asked for. */
static int
read_lines(struct verifying *verifying, struct error *error)
{
	const struct session *session = verifying->session;

	if (verifying->line) {
		take_line(&verifying->lines, verifying->line);
	} else {
		struct source *ledger =
		    source_of_ledger(session->ledger, session->path, error);
		if (!ledger)
			return ERROR_MEMORY;
		int code =
		    source_read_lines(ledger, take_line, &verifying->lines, error);
		source_close(ledger);
		if (code != 0)
			return code;
	}
	return verifying->lines.failed ? error_set(error, ERROR_MEMORY, "out of memory")
	                               : 0;
}

/* The last 30 days, or since the first shot; until the newest shot, or now. */
static enum command_exit
read_span(struct verifying *verifying)
{
	const struct call *call = verifying->call;
	struct ledger_summary summary;
	struct span span;
	struct error error;
	enum command_exit code =
	    span_read(&span, verifying->session, call, verifying->line);

	if (code != COMMAND_DONE)
		return code;
	if (ledger_read_summary(verifying->session->ledger, &summary, &error) != 0)
		return command_cannot(call, &error);
	if (summary.shots == 0) {
		fprintf(call->err, "evensoak: there are no shots in '%s'\n",
		    verifying->session->path);
		return COMMAND_NO;
	}
	struct wall last = clock_wall();
	if (last.ns <= summary.last.ns)
		last.ns = summary.last.ns + 1;
	verifying->to = span.to.ns != 0 && span.to.ns < last.ns ? span.to : last;
	verifying->from = span.from;
	if (!span.given)
		verifying->from.ns = verifying->to.ns - DAYS_BACK * VERIFY_DAY_NS;
	if (verifying->from.ns < summary.first.ns)
		verifying->from = summary.first;
	/* whole seconds, as the points have */
	verifying->from.ns -= verifying->from.ns % CLOCK_SECOND_NS;
	return COMMAND_DONE;
}

/* --- one store -------------------------------------------------------------------------------- */

static struct wall
end_of_day(struct wall from, struct wall to)
{
	int64_t end = (from.ns / VERIFY_DAY_NS + 1) * VERIFY_DAY_NS;

	return (struct wall){end < to.ns ? end : to.ns};
}

/* Adds a day of the store to those that are told. */
static int
read_part(struct verified *verified, const struct verifying *verifying,
    struct source *source, const struct verify_day *part, struct error *error)
{
	struct verify_day day = *part;
	int code = verify_day_read(
	    &day, verifying->session->ledger, source, &verified->terms, error);

	if (code == 0 && !verified_add(verified, &day))
		code = error_set(error, ERROR_MEMORY, "out of memory");
	if (code != 0)
		verify_day_release(&day);
	return code;
}

static int
read_day(struct verified *verified, const struct verifying *verifying,
    struct source *source, struct wall from, struct error *error)
{
	struct verify_day part = {.from = from, .to = end_of_day(from, verifying->to)};
	int code = 0;

	for (size_t i = 0; i < verifying->lines.count && code == 0; i++) {
		part.line = verifying->lines.list[i];
		code = read_part(verified, verifying, source, &part, error);
	}
	if (code != 0)
		return code;
	part.line = verifying->line;
	part.events = true;
	code = read_part(verified, verifying, source, &part, error);
	part.events = false;
	part.shifts = true;
	return code != 0 ? code : read_part(verified, verifying, source, &part, error);
}

static int
read_days(struct verified *verified, const struct verifying *verifying,
    struct source *source, struct error *error)
{
	int64_t days = (verifying->to.ns - verifying->from.ns) / VERIFY_DAY_NS + 1;
	struct wall from = verifying->from;
	int code = 0;

	for (int64_t i = 0; from.ns < verifying->to.ns && code == 0; i++) {
		progress_tell(verifying->progress,
		    "store %s: day %" PRId64 " of %" PRId64 " ...",
		    verified->store->name, i + 1, days);
		code = read_day(verified, verifying, source, from, error);
		from = end_of_day(from, verifying->to);
	}
	return code;
}

static int
read_store(
    struct verified *verified, const struct verifying *verifying, struct error *error)
{
	const struct session *session = verifying->session;
	const struct store_settings *store = verified->store;

	/* before anything is read: what is sent meanwhile is not missed */
	int code =
	    ledger_read_lack(session->ledger, store->name, &verified->lack, error);
	if (code != 0)
		return code;
	verified->terms.shot_cursor = verified->lack.shot_cursor;
	verified->terms.event_cursor = verified->lack.event_cursor;
	verified->terms.shift_cursor = verified->lack.shift_cursor;
	if (store->kind == STORE_VICTORIAMETRICS)
		verified->terms.hidden_from.ns = clock_wall().ns - HIDDEN_NS;
	struct source *source = source_of_store(
	    session->settings, (size_t)(store - session->settings->stores), error);
	if (!source)
		return ERROR_INVALID;
	code = read_days(verified, verifying, source, error);
	verified->twice = source_twice(source);
	source_close(source);
	return code;
}

static void
verify_store(struct verifying *verifying, size_t index)
{
	struct verified verified = {
	    .store = &verifying->session->settings->stores[index],
	    .from = verifying->from,
	    .to = verifying->to,
	};
	struct error error;

	if (read_store(&verified, verifying, &error) != 0) {
		verifying->failed = true;
		verified_put_failure(verifying->page, &verified, &error);
	} else {
		verifying->missing |= verified_put(verifying->page, &verified);
	}
	verified_release(&verified);
}

/* --- all of them ---------------------------------------------------------------------------- */

static enum command_exit
verify_stores(struct verifying *verifying)
{
	const struct call *call = verifying->call;
	const struct settings *settings = verifying->session->settings;
	const char *name = call->option[OPTION_STORE];
	size_t only = 0;
	enum command_exit code = COMMAND_DONE;
	struct error error;

	if (name)
		code = store_named_of_set_up(call, verifying->session, name, &only);
	if (code != COMMAND_DONE)
		return code;
	if (settings->store_count == 0)
		return command_usage(call, "the set-up has no store to look at");
	if ((code = read_span(verifying)) != COMMAND_DONE)
		return code;
	if (read_lines(verifying, &error) != 0)
		return command_cannot(call, &error);
	verifying->page = command_page_of(call, "days");
	if (!verifying->page)
		return COMMAND_CANNOT;
	verifying->progress = progress_start(call->err, PROGRESS_AFTER_S);
	page_open(verifying->page, GROUP_LIST, "stores", NULL);
	for (size_t i = 0; i < settings->store_count; i++)
		if (!name || i == only)
			verify_store(verifying, i);
	page_close(verifying->page);
	progress_end(verifying->progress);
	return command_end_page(call, verifying->page,
	    verifying->failed    ? COMMAND_CANNOT
	    : verifying->missing ? COMMAND_NO
				 : COMMAND_DONE);
}

static enum command_exit
verify(const struct call *call, const struct session *session)
{
	struct verifying verifying = {.call = call, .session = session};
	int line;
	enum command_exit code = session_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	verifying.line = line >= 0 ? session->settings->lines[line].name : NULL;
	code = verify_stores(&verifying);
	free(verifying.lines.list);
	return code;
}

enum command_exit
status_verify(const struct call *call)
{
	return session_run(call, verify);
}
