/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <stdlib.h>

#include "cli/command/session.h"
#include "conf/notes.h"
#include "conf/register.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/plan.h"

/* What one request and its answer take; devices with a gateway in between take more.
 * Common practice, no source. */
#define ROUND_TRIP_S 0.010

static void
free_plans(struct read_plan **plans, size_t count)
{
	for (size_t i = 0; plans && i < count; i++)
		if (plans[i])
			plan_free(plans[i]);
	free(plans);
}

/* A plan for each device, or NULL. */
static struct read_plan **
make_plans(const struct settings *settings)
{
	struct read_plan **plans =
	    calloc(settings->device_count + 1, sizeof(struct read_plan *));

	for (size_t i = 0; plans && i < settings->device_count; i++) {
		plans[i] = plan_new(settings, (uint32_t)i);
		if (!plans[i]) {
			free_plans(plans, i);
			return NULL;
		}
	}
	return plans;
}

static void
put_devices(
    struct page *page, const struct settings *settings, struct read_plan *const *plans)
{
	static const struct column columns[] = {
	    {"device", "device", 0},
	    {"line", "line", 0},
	    {"bus", "bus", 0},
	    {"unit_id", "unit", 0},
	    {"period_s", "period s", 0},
	    {"channels", "channels", 0},
	    {"requests", "requests", 0},
	    {"scan_s", "scan s", 0},
	    {"load_ratio", "load %", 0},
	};

	page_table(
	    page, "devices", "Devices", columns, sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < settings->device_count; i++) {
		const struct device_settings *device = &settings->devices[i];
		double scan_s = plan_seconds(plans[i], ROUND_TRIP_S);
		double load = scan_s / device->period_s;
		const struct cell cells[] = {
		    cell_words(device->name),
		    cell_words(settings->lines[device->line].name),
		    cell_words(settings->buses[device->bus].name),
		    cell_count(device->unit_id),
		    cell_number(device->period_s, 2),
		    cell_count(device->channel_count),
		    cell_count((int64_t)plans[i]->block_count),
		    cell_number(scan_s, 3),
		    cell_shown(load, load * 100, 1),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_blocks(
    struct page *page, const struct settings *settings, struct read_plan *const *plans)
{
	static const struct column columns[] = {
	    {"device", "device", 0},
	    {"table", "table", 0},
	    {"function", "function", 0},
	    {"first", "first", 0},
	    {"last", "last", 0},
	    {"count", "count", 0},
	    {"channels", "channels", 0},
	};

	page_table(page, "blocks", "Read plan: one request each", columns,
	    sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < settings->device_count; i++)
		for (uint32_t b = 0; b < plans[i]->block_count; b++) {
			const struct read_block *block = &plans[i]->blocks[b];
			int64_t channels = 0;
			for (uint32_t c = 0; c < plans[i]->channel_count; c++)
				channels += plans[i]->places[c].block == b;
			const struct cell cells[] = {
			    cell_words(settings->devices[i].name),
			    cell_words(words_table.list[block->table]),
			    cell_count(register_function(block->table)),
			    cell_count(block->first),
			    cell_count(block->first + block->count - 1),
			    cell_count(block->count),
			    cell_count(channels),
			};
			page_row(page, cells);
		}
	page_table_end(page);
}

/* Devices at one address wait for each other: their loads add up. */
static void
put_buses(
    struct page *page, const struct settings *settings, struct read_plan *const *plans)
{
	for (uint32_t bus = 0; bus < settings->bus_count; bus++) {
		const struct device_settings *one = NULL;
		double load = 0;
		for (size_t i = 0; i < settings->device_count; i++) {
			const struct device_settings *device = &settings->devices[i];
			if (device->bus != bus)
				continue;
			one = device;
			load += plan_seconds(plans[i], ROUND_TRIP_S) / device->period_s;
		}
		if (one && load > 1)
			page_note(page, NULL, TONE_BAD,
			    "'%s' needs %.0f %% of its time: readings will be late; "
			    "lengthen period_ms or close holes",
			    settings->buses[bus].name, load * 100);
	}
}

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

static enum command_exit
show(const struct call *call, const struct settings *settings,
    struct read_plan *const *plans)
{
	struct page *page = command_page(call);

	if (!page)
		return COMMAND_CANNOT;
	page_note(page, NULL, TONE_GOOD, "ok");
	page_field(page, "ok", NULL, cell_truth(true));
	page_field(page, "path", "set-up", cell_words(settings->path));
	page_field(page, "hash", "hash", cell_words(settings->hash));
	page_field(page, "site", "site", cell_words(settings->site));
	page_field(page, "ledger", "ledger", cell_words(settings->ledger));
	page_field(
	    page, "channels", "channels", cell_count((int64_t)settings->channel_count));
	page_field(page, "round_trip_s", NULL, cell_number(ROUND_TRIP_S, 3));
	put_devices(page, settings, plans);
	page_note(page, NULL, TONE_FAINT,
	    "scan s: time on the bus for one scan, at %.0f ms a request (assumed)",
	    ROUND_TRIP_S * 1000);
	put_buses(page, settings, plans);
	put_blocks(page, settings, plans);
	put_notes(page, settings);
	return command_end_page(call, page, COMMAND_DONE);
}

static enum command_exit
run_check(const struct call *call)
{
	const char *config = call->option[OPTION_CONFIG];
	struct problems *problems = calloc(1, sizeof *problems);
	struct settings *settings = NULL;
	struct read_plan **plans = NULL;
	enum command_exit code = COMMAND_CANNOT;
	struct error error;

	error_set(&error, ERROR_MEMORY, "out of memory");
	if (!problems)
		return command_cannot(call, &error);
	settings = settings_load(config ? config : SESSION_CONFIG, problems);
	if (!settings) {
		session_tell_problems(call, problems);
		code = COMMAND_NO;
	} else if (!(plans = make_plans(settings))) {
		command_cannot(call, &error);
	} else {
		code = show(call, settings, plans);
		free_plans(plans, settings->device_count);
	}
	settings_free(settings);
	free(problems);
	return code;
}

const struct command command_check = {
    .name = "check",
    .arguments = "",
    .summary = "the configuration, with the read plan",
    .details =
	"Reads the set-up as the daemon does.  Says ok and which blocks are asked of "
	"which\ndevice, or every mistake as file:line: sentence and exits 1.  Notes\n"
	"are no mistakes: what may be meant otherwise, or cannot work yet.",
    .csv_table = "blocks",
    .run = run_check,
};
