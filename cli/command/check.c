/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>

#include "cli/command/check_live.h"
#include "cli/command/check_plan.h"
#include "cli/command/registers_ask.h"
#include "cli/command/session.h"
#include "conf/notes.h"
#include "conf/settings.h"
#include "daemon/base/error.h"

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
	notes_tell(settings, put_note, page);
	page_close(page);
}

static void
put_head(struct page *page, const struct settings *settings, bool ok)
{
	if (ok)
		page_note(page, NULL, TONE_GOOD, "ok");
	else
		page_note(page, NULL, TONE_BAD, "a serial line has no time for this");
	page_field(page, "ok", NULL, cell_truth(ok));
	page_field(page, "path", "set-up", cell_words(settings->path));
	page_field(page, "hash", "hash", cell_words(settings->hash));
	page_field(page, "site", "site", cell_words(settings->site));
	page_field(page, "ledger", "ledger",
	    cell_words(*settings->ledger ? settings->ledger : NULL));
	page_field(
	    page, "channels", "channels", cell_count((int64_t)settings->channel_count));
}

static enum command_exit
show(const struct call *call, const struct settings *settings,
    const struct check_plan *plan)
{
	struct page *page = command_page(call);
	bool ok = check_plan_fits(plan);

	if (!page)
		return COMMAND_CANNOT;
	put_head(page, settings, ok);
	check_plan_put(plan, page);
	put_notes(page, settings);
	return command_end_page(call, page, ok ? COMMAND_DONE : COMMAND_NO);
}

/* --- live -------------------------------------------------------------------------------- */

static enum command_exit
show_live(const struct call *call, const struct settings *settings,
    const struct check_plan *plan, const struct live_device *live, size_t count)
{
	struct page *page = command_page_of(call, "live_channels");
	bool ok = check_plan_fits(plan);

	if (!page)
		return COMMAND_CANNOT;
	put_head(page, settings, ok);
	live_put(page, settings, live, count);
	for (size_t i = 0; i < count; i++)
		ok &= live_is_good(&live[i]);
	return command_end_page(call, page, ok ? COMMAND_DONE : COMMAND_NO);
}

/* Reads all devices, or the one of --device, one after another. */
static enum command_exit
check_live(const struct call *call, const struct settings *settings,
    const struct check_plan *plan)
{
	struct live_device *live;
	int64_t only;
	size_t count = 0;
	bool fine = true;
	struct error error;
	enum command_exit code = registers_ask_device(call, settings, &only);

	if (code != COMMAND_DONE)
		return code;
	live = calloc(settings->device_count + 1, sizeof *live);
	for (size_t i = 0; live && fine && i < settings->device_count; i++)
		if (only < 0 || (size_t)only == i)
			fine = live_read(&live[count++], settings, (uint32_t)i);
	if (live && fine) {
		code = show_live(call, settings, plan, live, count);
	} else {
		error_set(&error, ERROR_MEMORY, "out of memory");
		code = command_cannot(call, &error);
	}
	for (size_t i = 0; live && i < count; i++)
		live_release(&live[i]);
	free(live);
	return code;
}

/* --- the command ------------------------------------------------------------------------- */

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
	if (!problems)
		return command_cannot(call, &error);
	settings = settings_load(config ? config : SESSION_CONFIG, problems);
	if (!settings) {
		session_tell_problems(call, problems);
		code = COMMAND_NO;
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
    {OPTION_DEVICE, "with --live: this device alone"},
    {0, NULL},
};

const struct command command_check = {
    .name = "check",
    .arguments = "",
    .summary = "the configuration, with the read plan",
    .details =
	"Reads the set-up as the daemon does.  Says ok and which blocks are asked of "
	"which\ndevice, or every mistake as file:line: sentence and exits 1, as it "
	"does "
	"where a\nserial line has no time for what is read over it.  Notes are no "
	"mistakes: what may\nbe meant otherwise, or cannot work yet.\n"
	"--live reads every channel once, over connections beside the daemon's and\n"
	"reading only: raw registers, value, and why there is none. A device that\n"
	"does not answer costs one time-out. Exit 1: a channel has no value.",
    .options = OPTION_BIT(OPTION_LIVE) | OPTION_BIT(OPTION_DEVICE),
    .help = help,
    .csv_table = "blocks",
    .run = run_check,
};
