/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/command/remark.h"
#include "cli/command/session.h"
#include "cli/wording/shown.h"
#include "cli/command/status_age.h"
#include "cli/command/status_devices.h"
#include "cli/command/status_logger.h"
#include "cli/command/status_remarks.h"
#include "cli/command/status_shifts.h"
#include "cli/command/status_stores.h"
#include "cli/command/status_verify.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_lock.h"
#include "daemon/ledger/ledger_read.h"

/* "answers in part", the other states as they are. */
static const char *
state_words(const struct ledger_health *health)
{
	return strcmp(health->state, "in_part") == 0 ? "answers in part"
	                                             : health->state;
}

/* A thing that has had nothing to do yet is not wrong. */
static bool
is_wrong(const struct ledger_health *health)
{
	return strcmp(health->state, "ok") != 0 &&
	       strcmp(health->state, "starting") != 0;
}

struct status {
	const struct session *session;
	struct page *page;
	struct status_devices *devices;
	struct status_stores stores;
	struct ledger_logger logger;
	bool logger_known;
	bool running, current; /* the daemon; and what is on file is its own */
	struct status_age age;
	char told[LEDGER_LOCK_TOLD]; /* beside it: why it cannot write there; "" */
	int wrong;                   /* how many things are */
	int untried;                 /* devices */
};

static void
put_wrong(struct status *status, const char *what, const char *why)
{
	page_note(status->page, NULL, TONE_BAD, "wrong: %s: %s", what, why);
	status->wrong++;
}

static int
take_health(void *arg, const struct ledger_health *health)
{
	struct status *status = arg;
	struct status_device *device =
	    status_devices_find(status->devices, health->subject);
	char more[512];
	struct cell state = cell_words(health->state);

	if (device)
		text_copy(device->text, sizeof device->text, health->text);
	text_copy(more, sizeof more, health->text);
	if (device && status_remarks_bus_is_dead(status->devices, device))
		snprintf(more, sizeof more, "nobody on its bus answers");

	const struct status_store *store =
	    status_stores_find(&status->stores, health->subject);
	state.instead = store ? status_stores_words(store) : state_words(health);
	state.tone = is_wrong(health) ? TONE_BAD : TONE_GOOD;
	const struct cell cells[] = {
	    cell_words(health->subject),
	    state,
	    cell_time(health->since),
	    cell_words(health->text),
	    cell_count(health->good),
	    cell_count(health->bad),
	    cell_time(health->at),
	    cell_words(more),
	};
	page_row(status->page, cells);
	return 0;
}

/* "Health", and what else these rows are. */
static void
name_health(const struct status *status, char heading[static STATUS_AGE_TEXT])
{
	if (status->age.stale)
		status_age_text(&status->age, heading);
	else
		snprintf(heading, STATUS_AGE_TEXT, "Health%s",
		    status->current   ? ""
		    : status->running ? ", as an earlier run of the daemon left it"
				      : ", when the daemon last wrote");
}

static int
put_health(struct status *status, struct error *error)
{
	static const struct column columns[] = {
	    {"subject", "what", 0},
	    {"state", "state", 0},
	    {"since", "since", 0},
	    {"text", NULL, 0},
	    {"good", "good", 0},
	    {"bad", "bad", 0},
	    {"at", NULL, 0},
	    {NULL, "more", 0},
	};

	char heading[STATUS_AGE_TEXT];

	name_health(status, heading);
	page_table(status->page, "health", heading, columns,
	    sizeof columns / sizeof columns[0]);
	int code =
	    ledger_read_health(status->session->ledger, take_health, status, error);
	page_table_end(status->page);
	return code;
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct status *status = arg;
	char flags[SHOWN_FLAGS], remark[REMARK_TEXT];

	shown_flags(shot->flags, flags);
	remark_why(shot->outcome, shot->reason, shot->flags, remark);
	const struct cell cells[] = {
	    cell_words(shot->line),
	    cell_count(shot->shot_no),
	    cell_time(shot->filed_at),
	    cell_words(shot_outcome_text(shot->outcome)),
	    shown_name(flags),
	    shown_name(shot->reason),
	    cell_words(*remark ? remark : "complete"),
	};
	page_row(status->page, cells);
	return 0;
}

static int
put_last_shots(struct status *status, struct error *error)
{
	static const struct column columns[] = {
	    {"line", "line", 0},
	    {"shot_no", "shot", 0},
	    {"filed_at", "at", 0},
	    {"outcome", NULL, 0},
	    {"flags", NULL, 0},
	    {"reason", NULL, 0},
	    {NULL, "what became of it", 0},
	};
	const struct settings *settings = status->session->settings;
	int code = 0;

	page_table(status->page, "last_shots", "Last shot", columns,
	    sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < settings->line_count && code == 0; i++) {
		const struct ledger_filter filter = {
		    .line = settings->lines[i].name, .limit = 1, .newest_first = true};
		code = ledger_read_shots(
		    status->session->ledger, &filter, false, take_shot, status, error);
	}
	page_table_end(status->page);
	return code;
}

static int
name_wrong(void *arg, const struct ledger_health *health)
{
	struct status *status = arg;
	char why[LEDGER_NAME + 512], since[CALENDAR_TEXT];

	const struct status_device *device =
	    status_devices_find(status->devices, health->subject);

	if (device && strcmp(health->state, "starting") == 0)
		status->untried++;
	if (!is_wrong(health) || status_stores_is_subject(health->subject) ||
	    (*status->told && strcmp(health->subject, "ledger") == 0) ||
	    (device && status_remarks_bus_is_dead(status->devices, device)))
		return 0;
	shown_clock(health->since, clock_wall(), since);
	snprintf(why, sizeof why, "%s%s%s since %s", health->text,
	    *health->text ? "; " : "", state_words(health), since);
	put_wrong(status, health->subject, why);
	return 0;
}

/* Told and not wrong: the shots are made all the same. */
static int
put_overdue(const struct status *status, struct error *error)
{
	const struct session *session = status->session;
	const struct settings *settings = session->settings;
	const struct wall now = clock_wall();
	char words[CALIBRATE_WORDS];

	if (!settings)
		return 0;
	struct calibrate_held *held = calloc(settings->channel_count + 1, sizeof *held);
	if (!held)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code =
	    calibrate_state_read(held, session->ledger, settings, -1, now, error);
	for (size_t i = 0; i < settings->line_count && code == 0; i++)
		if (calibrate_overdue(settings, (int)i, held, now, words) > 0)
			page_note(status->page, NULL, TONE_BAD,
			    "calibration overdue on %s: %s; see 'evensoak calibrate'",
			    settings->lines[i].name, words);
	free(held);
	return code;
}

static void
put_head(const struct status *status, const struct ledger_summary *summary)
{
	struct page *page = status->page;
	struct cell running = cell_truth(status->running);

	running.instead = status->current   ? "running"
	                  : *status->told   ? "running, and cannot write here"
	                  : status->running ? "starting"
	                                    : "not running";
	running.tone = status->running ? TONE_GOOD : TONE_BAD;
	page_field(page, "daemon_running", "daemon", running);
	page_field(page, "health_current", NULL, cell_truth(status->current));
	page_field(page, "health_stale", NULL, cell_truth(status->age.stale));
	page_field(page, "ledger", "ledger", cell_words(status->session->path));
	page_field(page, "ledger_bytes", "size MB",
	    cell_shown((double)summary->bytes, (double)summary->bytes / 1e6, 1));
	page_field(page, "shots", "shots", cell_count(summary->shots));
	page_field(page, "events", "events", cell_count(summary->events));
	page_field(page, "first_filed_at", "first shot", cell_time(summary->first));
	page_field(page, "last_filed_at", "last shot", cell_time(summary->last));
}

static void
put_stale(struct status *status)
{
	char since[CALENDAR_TEXT], why[CALENDAR_TEXT + 160];

	shown_clock(status->age.at, clock_wall(), since);
	snprintf(why, sizeof why,
	    "cannot write how it is since %s: is the disk full, the ledger damaged? "
	    "'journalctl -u evensoakd' tells",
	    since);
	put_wrong(status, "daemon", why);
}

/* The rows of a daemon that is gone tell how it was then. */
static int
put_wrongs(struct status *status, struct error *error)
{
	if (!status->running) {
		put_wrong(status, "daemon", "evensoakd is not running on this ledger");
		page_note(status->page, NULL, TONE_PLAIN,
		    "to start it: sudo systemctl start evensoakd; why it ended: "
		    "journalctl -u evensoakd");
		return 0;
	}
	if (*status->told)
		put_wrong(status, "ledger", status->told);
	if (!status->current) {
		if (!*status->told)
			put_wrong(status, "daemon", "starting, nothing known yet");
		return 0;
	}
	if (status->age.stale && !*status->told)
		put_stale(status);
	int code =
	    ledger_read_health(status->session->ledger, name_wrong, status, error);
	if (code != 0)
		return code;
	status->wrong += status_remarks_wrong(status->page, status->devices);
	status_remarks_advise(status->page, status->devices);
	status->wrong += status_stores_wrong(status->page, &status->stores);
	if (status->logger_known)
		status->wrong += status_logger_wrong(status->page, &status->logger);
	return 0;
}

static void
put_verdict(const struct status *status)
{
	page_field(status->page, "wrong", NULL, cell_count(status->wrong));
	if (status->wrong > 0)
		return;
	if (status->untried > 0)
		page_note(status->page, NULL, TONE_PLAIN,
		    "nothing wrong so far; %d device%s not tried yet", status->untried,
		    status->untried == 1 ? "" : "s");
	else
		page_note(status->page, NULL, TONE_GOOD, "all is well");
}

static int
put_status(struct status *status, struct error *error)
{
	struct ledger_read *ledger = status->session->ledger;
	struct ledger_summary summary;

	if (ledger_read_summary(ledger, &summary, error) != 0)
		return ERROR_IO;
	ledger_lock_told(status->session->path, status->told);
	status->running = summary.daemon_running;
	status->current = summary.health_current;
	status->devices = status_devices_read(ledger, error);
	if (!status->devices ||
	    status_age_read(&status->age, status->session, status->current, error) !=
		0 ||
	    status_stores_read(&status->stores, status->session, error) != 0 ||
	    status_logger_read(ledger, &status->logger, &status->logger_known, error) !=
		0)
		return ERROR_IO;
	status->logger_known = status->logger_known && status->current;
	put_head(status, &summary);
	if (status->logger_known)
		status_logger_put(status->page, &status->logger);
	if (put_health(status, error) != 0)
		return ERROR_IO;
	status_devices_put(status->page, status->devices, status->current);
	status_stores_put(status->page, &status->stores, status->current);
	if (put_last_shots(status, error) != 0 || put_wrongs(status, error) != 0)
		return ERROR_IO;
	status->wrong += status_stores_remark(status->page, &status->stores);
	if (*status->session->refused)
		put_wrong(status, "configuration", status->session->refused);
	if (put_overdue(status, error) != 0 ||
	    (status->running &&
		status_shifts_remark(status->page, status->session, error) != 0))
		return ERROR_IO;
	put_verdict(status);
	return 0;
}

static enum command_exit
show_status(const struct call *call, const struct session *session)
{
	struct status status = {.session = session, .page = command_page(call)};
	struct error error;

	if (!status.page)
		return COMMAND_CANNOT;
	enum command_exit code = put_status(&status, &error) != 0
	                             ? session_cannot(session, call, &error)
	                         : status.wrong ? COMMAND_NO
	                                        : COMMAND_DONE;
	free(status.devices);
	status_stores_release(&status.stores);
	return command_end_page(call, status.page, code);
}

static enum command_exit
run_status(const struct call *call)
{
	if (call->option[OPTION_VERIFY])
		return status_verify(call);
	enum command_exit code = command_refuse_options(call, "without --verify", 0);
	return code != COMMAND_DONE ? code : session_run_despite(call, show_status);
}

static const struct option_help help[] = {
    {OPTION_STORE, "with --verify: this store alone"},
    {OPTION_LINE, "with --verify: this line alone"},
    {0, NULL},
};

const struct command command_status = {
    .name = "status",
    .arguments = "",
    .summary = "daemon, devices and their buses, delivery, last shots, ledger",
    .details =
	"Exits 1 when something is wrong, and names it: also a sensor without a "
	"value for\nmore than a minute, lines that a store refused in the last 24 "
	"hours, and a daemon\nof which nothing is known yet, or that cannot write "
	"how it is.  An overdue\ncalibration and shifts that are not closed are told "
	"and not counted as wrong.\nA device that does not answer is wrong here at "
	"once; an event comes of it after 60 s,\nand what [notify] runs is told some "
	"10 s later.\nWhere the set-up that --config names has mistakes "
	"the first is told, as something\nwrong, and the newest set-up in the ledger "
	"holds.\n"
	"With --verify it does another thing: it reads the stores back and holds "
	"them, day\nby day, against the ledger: every shot with its last "
	"correction, and every event.\nOf the last 30 days, unless a time is "
	"said.  Exits 1 and names the shots when a store\nhas not what it took.",
    .options = OPTION_BIT(OPTION_VERIFY) | STATUS_VERIFY_OPTIONS,
    .csv_table = "health",
    .help = help,
    .run = run_status,
};
