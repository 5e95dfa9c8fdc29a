/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>

#include "cli/command/check_drop_in.h"
#include "cli/command/check_live.h"
#include "cli/command/check_next.h"
#include "cli/command/check_notify.h"
#include "cli/command/check_plan.h"
#include "cli/command/check_shifts.h"
#include "cli/command/check_stores.h"
#include "cli/command/check_unit.h"
#include "cli/command/progress.h"
#include "cli/command/registers_ask.h"
#include "cli/command/session.h"
#include "cli/command/store_files.h"
#include "conf/notes.h"
#include "conf/settings.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* Nothing that is wrong: what may be meant otherwise. */
static void
put_note(void *arg, const char *sentence)
{
	struct page *page = arg;

	page_open(page, GROUP_ITEM, NULL, NULL);
	page_note(page, NULL, TONE_PLAIN, "note: %s", sentence);
	page_field(page, "text", NULL, cell_words(sentence));
	page_close(page);
}

static void
put_notes(struct page *page, const struct settings *settings)
{
	page_open(page, GROUP_LIST, "notes", NULL);
	check_unit_tell_installed(settings, put_note, page);
	notes_tell(settings, put_note, page);
	check_shifts_put_notes(page, settings);
	check_stores_put_notes(page, settings);
	page_close(page);
}

/* What a set-up without mistakes has to be for yet. */
struct fitness {
	bool fits, reached,
	    told; /* the serial lines, the stores, whoever is notified */
	size_t channels, silent, stores_silent; /* asked; of them without an answer */
};

static bool
is_fit(struct fitness fitness)
{
	return fitness.fits && fitness.reached && fitness.told && fitness.silent == 0 &&
	       fitness.stores_silent == 0;
}

static void
put_head(struct page *page, const struct settings *settings, struct fitness fitness)
{
	if (!fitness.fits)
		page_note(page, NULL, TONE_BAD, "a serial line has no time for this");
	if (!fitness.reached)
		page_note(page, NULL, TONE_BAD, "a store will not be reached");
	if (!fitness.told)
		page_note(page, NULL, TONE_BAD, "nobody will be notified");
	if (fitness.silent > 0)
		page_note(page, NULL, TONE_BAD, "%zu of %zu channels have no value",
		    fitness.silent, fitness.channels);
	if (fitness.stores_silent > 0)
		page_note(page, NULL, TONE_BAD, "%zu of %zu stores cannot be read",
		    fitness.stores_silent, settings->store_count);
	if (is_fit(fitness))
		page_note(page, NULL, TONE_GOOD, "ok");
	page_field(page, "ok", NULL, cell_truth(is_fit(fitness)));
	page_field(page, "path", "set-up", cell_words(settings->path));
	page_field(page, "hash", "hash", cell_words(settings->hash));
	page_field(page, "site", "site", cell_words(settings->site));
	page_field(page, "ledger", "ledger",
	    cell_words(*settings->ledger ? settings->ledger : NULL));
	page_field(
	    page, "channels", "channels", cell_count((int64_t)settings->channel_count));
}

/* Without a line no logger runs on it. */
static void
put_next(struct page *page, const struct settings *settings, bool live)
{
	if (settings->line_count > 0)
		check_next_put(page, settings, live);
}

static enum command_exit
show(const struct call *call, const struct settings *settings,
    const struct check_plan *plan)
{
	struct page *page = command_page(call);
	struct error error;
	struct check_notify notify;

	if (!page)
		return COMMAND_CANNOT;
	check_notify_look(&notify, settings);
	const struct fitness fitness = {check_plan_fits(plan),
	    store_files_will_do(settings), notify.verdict != PROGRAM_WRONG, 0, 0, 0};
	calendar_set_zone(settings->zone, &error); /* which has been looked up */
	put_head(page, settings, fitness);
	check_plan_put(plan, page);
	check_shifts_put(page, settings, calendar_date_of(clock_wall()));
	check_stores_put(page, settings);
	check_notify_put(page, settings, &notify);
	put_notes(page, settings);
	if (is_fit(fitness))
		put_next(page, settings, false);
	return command_end_page(
	    call, page, is_fit(fitness) ? COMMAND_DONE : COMMAND_NO);
}

/* --- live -------------------------------------------------------------------------------- */

/* What was asked: devices, and stores unless `stores` is NULL. */
struct asked {
	struct live_device *devices;
	size_t device_count;
	struct store_live *stores;
};

/* Stores tell themselves what ails them, and the program is not run. */
static struct fitness
judge_live(const struct settings *settings, const struct check_plan *plan,
    const struct asked *asked)
{
	struct fitness fitness = {check_plan_fits(plan), true, true, 0, 0, 0};

	for (size_t i = 0; i < asked->device_count; i++) {
		const struct live_device *live = &asked->devices[i];
		fitness.channels += live->plan->channel_count;
		fitness.silent += live->plan->channel_count - live->good;
	}
	for (size_t i = 0; asked->stores && i < settings->store_count; i++)
		fitness.stores_silent += asked->stores[i].trouble != TROUBLE_NONE;
	return fitness;
}

static enum command_exit
show_live(const struct call *call, const struct settings *settings,
    const struct check_plan *plan, const struct asked *asked)
{
	struct page *page = command_page_of(call, "live_channels");
	const struct fitness fitness = judge_live(settings, plan, asked);

	if (!page)
		return COMMAND_CANNOT;
	put_head(page, settings, fitness);
	live_put(page, settings, asked->devices, asked->device_count);
	if (asked->stores)
		check_stores_put_live(page, settings, asked->stores);
	if (is_fit(fitness))
		put_next(page, settings, true);
	return command_end_page(
	    call, page, is_fit(fitness) ? COMMAND_DONE : COMMAND_NO);
}

/* All devices and stores, or the device `only`, one after another.  False when memory is
 * short. */
static bool
ask_all(struct asked *asked, const struct settings *settings, int64_t only,
    struct progress *progress)
{
	asked->devices = calloc(settings->device_count + 1, sizeof *asked->devices);
	if (!asked->devices)
		return false;
	for (size_t i = 0; i < settings->device_count; i++) {
		if (only >= 0 && (size_t)only != i)
			continue;
		progress_tell(progress, "%s ...", settings->devices[i].name);
		if (!live_read(
			&asked->devices[asked->device_count++], settings, (uint32_t)i))
			return false;
	}
	if (only >= 0)
		return true;
	asked->stores = calloc(settings->store_count + 1, sizeof *asked->stores);
	for (size_t i = 0; asked->stores && i < settings->store_count; i++) {
		progress_tell(progress, "%s ...", settings->stores[i].name);
		check_stores_ask(&asked->stores[i], settings, i);
	}
	return asked->stores != NULL;
}

static enum command_exit
check_live(const struct call *call, const struct settings *settings,
    const struct check_plan *plan)
{
	struct asked asked = {0};
	int64_t only;
	struct error error;
	enum command_exit code = registers_ask_device(call, settings, &only);

	if (code != COMMAND_DONE)
		return code;
	struct progress *progress = progress_start(call->err, PROGRESS_AFTER_S);
	bool all = ask_all(&asked, settings, only, progress);
	progress_end(progress);
	if (all) {
		code = show_live(call, settings, plan, &asked);
	} else {
		error_set(&error, ERROR_MEMORY, "out of memory");
		code = command_cannot(call, &error);
	}
	for (size_t i = 0; i < asked.device_count; i++)
		live_release(&asked.devices[i]);
	free(asked.devices);
	free(asked.stores);
	return code;
}

/* --- the command ------------------------------------------------------------------------- */

static enum command_exit
write_drop_in(const struct call *call, const struct settings *settings)
{
	enum command_exit code = COMMAND_CANNOT;
	struct text text;
	struct error error;

	text_init(&text, 1 << 20);
	check_drop_in_add(settings, &text);
	error_set(&error, ERROR_MEMORY, "out of memory");
	if (text.failed)
		command_cannot(call, &error);
	else if (fputs(text.bytes, call->out) >= 0)
		code = COMMAND_DONE;
	text_release(&text);
	return code;
}

static enum command_exit
run_check(const struct call *call)
{
	const char *config = call->option[OPTION_CONFIG];
	struct problems *problems = calloc(1, sizeof *problems);
	struct settings *settings = NULL;
	struct check_plan *plan = NULL;
	enum command_exit code = COMMAND_CANNOT;
	struct error error;

	error_set(&error, ERROR_MEMORY, "out of memory");
	if (call->option[OPTION_DEVICE] && !call->option[OPTION_LIVE]) {
		free(problems);
		return command_usage(call, "'--device' goes with --live");
	}
	if (call->option[OPTION_DROP_IN] &&
	    (call->option[OPTION_LIVE] || call->option[OPTION_FORMAT])) {
		free(problems);
		return command_usage(
		    call, "'--drop-in' goes with neither --live nor --format");
	}
	if (!problems)
		return command_cannot(call, &error);
	if (!config)
		config = SESSION_CONFIG;
	settings = settings_load(config, problems);
	if (!settings) {
		session_tell_problems(call, problems);
		check_next_tell_missing(call, config);
		code = COMMAND_NO;
	} else if (call->option[OPTION_DROP_IN]) {
		code = write_drop_in(call, settings);
	} else if (!(plan = check_plan_new(settings))) {
		command_cannot(call, &error);
	} else if (call->option[OPTION_LIVE]) {
		code = check_live(call, settings, plan);
	} else {
		code = show(call, settings, plan);
	}
	check_plan_free(plan);
	settings_free(settings);
	free(problems);
	return code;
}

static const struct option_help help[] = {
    {OPTION_DEVICE, "with --live: this device alone, and no store"},
    {0, NULL},
};

const struct command command_check = {
    .name = "check",
    .arguments = "",
    .summary = "the configuration, with the read plan",
    .details =
	"Reads the set-up as the daemon does.  Says ok, which blocks are asked of "
	"which\ndevice and the shifts of the coming seven days; or every mistake as\n"
	"file:line: sentence, and exits 1, as it does where a serial line has no time\n"
	"for what is read over it.  Notes are no mistakes: what may be meant "
	"otherwise,\n"
	"or cannot work yet.  Of the service's own set-up they tell too what its unit\n"
	"may not write or see, and, asked as root, which files its user may not "
	"read.\n\n"
	"Exit 1 also where a store will not be reached, as the file of its secret or\n"
	"certificate is missing, empty or open to everybody, and where the program of\n"
	"[notify] cannot be run or could be changed by others.  It is not run.\n\n"
	"--live reads every channel once, over connections beside the daemon's and\n"
	"reading only: raw registers, value, and why there is none; and asks every\n"
	"store one question, which writes nothing. A device that does not answer\n"
	"costs one time-out, a store six seconds more. Exit 1: a channel has no\n"
	"value, or a store did not answer.\n\n"
	"--drop-in writes the addresses of devices and stores and the serial ports as\n"
	"a drop-in that lets the logger's unit reach these and no other:\n"
	"  evensoak check --drop-in | sudo install -D -m 644 /dev/stdin \\\n"
	"      /etc/systemd/system/evensoakd.service.d/reach.conf\n"
	"  sudo systemctl daemon-reload && sudo systemctl restart evensoakd\n"
	"It is to be made anew when one of them changes.",
    .options = OPTION_BIT(OPTION_LIVE) | OPTION_BIT(OPTION_DEVICE) |
               OPTION_BIT(OPTION_DROP_IN),
    .help = help,
    .csv_table = "blocks",
    .run = run_check,
};
