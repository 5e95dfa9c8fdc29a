/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <inttypes.h>
#include <string.h>

#include "cli/command/refusals.h"
#include "cli/command/session.h"
#include "cli/command/span.h"
#include "cli/command/store_named.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/ledger/ledger_read_delivery.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

struct resend {
	const struct call *call;
	const struct session *session;
	struct store_named store;
	bool dry_run;
	struct wall from; /* ns 0: nothing is to be sent again */
	struct refusals refusals;
	struct page *page;
	struct error error;
};

/* --- what was refused ------------------------------------------------------------------- */

static int
take_refused(void *arg, const struct ledger_refused *refused)
{
	struct resend *resend = arg;

	if (refused->time.ns != 0 &&
	    (resend->from.ns == 0 || refused->time.ns < resend->from.ns))
		resend->from = refused->time;
	refusals_add(&resend->refusals, refused);
	const struct cell cells[] = {
	    cell_time(refused->at),
	    cell_words(refused->answer),
	    cell_words(refused->line),
	    cell_time(refused->time),
	};
	page_row(resend->page, cells);
	return 0;
}

/* People get a row for each wording: every line has its own words, all but the same. */
static void
put_wordings(const struct resend *resend)
{
	static const struct column columns[] = {
	    {NULL, "lines", 0},
	    {NULL, "of", 0},
	    {NULL, "line", 0},
	    {NULL, "points from", 0},
	    {NULL, "to", 0},
	    {NULL, "refused from", 1},
	    {NULL, "to", 1},
	    {NULL, "the store's words", 2},
	};
	const struct refusals *refusals = &resend->refusals;

	page_table(resend->page, NULL, "Refused", columns, COUNT(columns));
	for (size_t i = 0; i < refusals->count; i++) {
		const struct refusals_kind *kind = &refusals->list[i];
		const struct cell cells[] = {
		    cell_count(kind->lines),
		    cell_words(kind->measurements),
		    *kind->of ? cell_words(kind->of) : cell_absent(NULL),
		    cell_time(kind->from),
		    cell_time(kind->to),
		    cell_time(kind->first),
		    cell_time(kind->last),
		    cell_words(kind->words),
		};
		page_row(resend->page, cells);
	}
	page_table_end(resend->page);
	for (size_t i = 0; i < refusals->count; i++) {
		const char *advice = refusals_advice(refusals->list[i].words);
		if (advice)
			page_note(resend->page, NULL, TONE_PLAIN,
			    "the %" PRId64 " line%s: %s", refusals->list[i].lines,
			    refusals->list[i].lines == 1 ? "" : "s", advice);
	}
}

/* Lists them, for machines every line; `from` becomes the time of the first. */
static int
put_refused(struct resend *resend)
{
	static const struct column columns[] = {
	    {"refused_at", NULL, 0},
	    {"answer", NULL, 0},
	    {"line", NULL, 0},
	    {"time", NULL, 0},
	};

	page_table(resend->page, "refused_lines", NULL, columns, COUNT(columns));
	int code = ledger_read_refusals(resend->session->ledger, resend->store.name,
	    take_refused, resend, &resend->error);
	page_table_end(resend->page);
	if (code == 0)
		put_wordings(resend);
	return code;
}

/* --- setting back ------------------------------------------------------------------------ */

/* `lack`: what it lacks then, or would. */
static int
set_back(struct resend *resend, struct ledger_lack *lack)
{
	struct ledger_read *read = resend->session->ledger;
	const char *path = resend->session->path, *store = resend->store.name;
	int64_t shots = 0, events = 0;

	if (resend->dry_run)
		return ledger_read_lack_from(
		    read, store, resend->from, lack, &resend->error);
	struct ledger *ledger = ledger_open(path, NULL, &resend->error);
	if (!ledger)
		return ERROR_IO;
	int code = ledger_set_back(
	    ledger, store, resend->from, &shots, &events, &resend->error);
	ledger_close(ledger);
	if (code == 0)
		code = ledger_read_lack(read, store, lack, &resend->error);
	lack->shots = shots;
	lack->events = events;
	return code;
}

static void
tell_when(const struct resend *resend, const struct ledger_summary *summary)
{
	struct page *page = resend->page;

	if (!resend->store.settings)
		page_note(page, NULL, TONE_BAD,
		    "'%s' is not in the set-up any more: nothing goes out until it is",
		    resend->store.name);
	else if (!summary->daemon_running)
		page_note(page, NULL, TONE_BAD,
		    "evensoakd is not running: they go out when it does");
	else if (!resend->dry_run)
		page_note(page, NULL, TONE_PLAIN,
		    "evensoakd begins within ten seconds; 'evensoak status' shows what "
		    "is left.  What the store has already is not stored twice");
}

static int
put_what_goes(struct resend *resend)
{
	struct page *page = resend->page;
	struct ledger_lack before, lack;
	struct ledger_summary summary;
	int code = ledger_read_lack(
	    resend->session->ledger, resend->store.name, &before, &resend->error);

	if (code == 0)
		code = ledger_read_summary(
		    resend->session->ledger, &summary, &resend->error);
	if (code == 0)
		code = set_back(resend, &lack);
	if (code != 0)
		return code;
	if (resend->dry_run)
		page_note(page, NULL, TONE_STRONG, "nothing is changed");
	page_field(page, "dry_run", NULL, cell_truth(resend->dry_run));
	page_field(page, "store", "store", cell_words(resend->store.name));
	page_field(page, "from", "from", cell_time(resend->from));
	page_field(page, "shots", "shots to send", cell_count(lack.shots));
	page_field(page, "shots_before", NULL, cell_count(before.shots));
	page_field(page, "events", "events to send", cell_count(lack.events));
	page_field(page, "events_before", NULL, cell_count(before.events));
	page_field(page, "shifts", lack.shifts > 0 ? "closed shifts to send" : NULL,
	    cell_count(lack.shifts));
	page_field(page, "shifts_before", NULL, cell_count(before.shifts));
	if (before.shots > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "%" PRId64 " shot%s of these were to be sent anyway", before.shots,
		    before.shots == 1 ? "" : "s");
	tell_when(resend, &summary);
	return 0;
}

static enum command_exit
put_nothing(struct resend *resend)
{
	page_field(resend->page, "store", "store", cell_words(resend->store.name));
	page_note(resend->page, NULL, TONE_GOOD,
	    "no line is set aside that '%s' has refused", resend->store.name);
	return COMMAND_NO;
}

static enum command_exit
resend_refused(struct resend *resend)
{
	if (put_refused(resend) != 0)
		return command_cannot(resend->call, &resend->error);
	if (resend->from.ns == 0)
		return put_nothing(resend);
	return put_what_goes(resend) != 0 ? command_cannot(resend->call, &resend->error)
	                                  : COMMAND_DONE;
}

/* --- from when ---------------------------------------------------------------------------- */

static enum command_exit
read_from(struct resend *resend)
{
	const struct call *call = resend->call;
	bool refused = call->option[OPTION_REFUSED];
	bool from = call->option[OPTION_FROM], since = call->option[OPTION_SINCE];
	struct span span;

	if (refused + from + since != 1)
		return command_usage(call,
		    "say from when on: --from TIME or --since SPAN; or --refused");
	if (refused)
		return COMMAND_DONE;
	enum command_exit code = span_read(&span, resend->session, call, NULL);
	resend->from = span.from;
	return code;
}

static enum command_exit
resend(const struct call *call, const struct session *session)
{
	struct resend resend = {
	    .call = call,
	    .session = session,
	    .dry_run = call->option[OPTION_DRY_RUN] != NULL,
	};
	enum command_exit code =
	    store_named(&resend.store, call, session, call->argument[0]);

	if (code == COMMAND_DONE)
		code = read_from(&resend);
	if (code != COMMAND_DONE)
		return code;
	resend.page = command_page(call);
	if (!resend.page)
		return COMMAND_CANNOT;
	if (call->option[OPTION_REFUSED])
		code = resend_refused(&resend);
	else if (put_what_goes(&resend) != 0)
		code = command_cannot(call, &resend.error);
	return command_end_page(call, resend.page, code);
}

static enum command_exit
run_resend(const struct call *call)
{
	return session_run_despite(call, resend);
}

static const struct option_help help[] = {
    {OPTION_FROM, "everything of this time and later: 2026-03-02, 2026-03-02T06:00"},
    {OPTION_SINCE, "everything of so long ago and later: 7d, 12h"},
    {OPTION_REFUSED, "lists the lines that it refused, by its words, and sends them "
		     "again"},
    {OPTION_DRY_RUN, "only say what would go out"},
    {0, NULL},
};

const struct command command_resend = {
    .name = "resend",
    .arguments = "STORE",
    .summary = "sends a store once more what it has lost, or refused",
    .details =
	"For a store that was restored from an old backup, was replaced, or lacks\n"
	"what 'evensoak status --verify' names: sets back how far it is taken to\n"
	"have everything, and the daemon sends all of that time and later again.\n"
	"What is there already stays as it is: a point that comes twice is one.\n"
	"Shots of lines that it refused are set aside and never hold up others;\n"
	"once the cause is mended (its words tell), --refused sends them again,\n"
	"with everything later.  Live readings are not sent again.\n"
	"Works while the daemon runs.  Needs the right to write the ledger.",
    .options = OPTION_BIT(OPTION_FROM) | OPTION_BIT(OPTION_SINCE) |
               OPTION_BIT(OPTION_REFUSED) | OPTION_BIT(OPTION_DRY_RUN),
    .argument_least = 1,
    .argument_most = 1,
    .csv_table = "refused_lines",
    .help = help,
    .run = run_resend,
};
