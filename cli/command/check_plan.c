/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_plan.h"

#include <stdlib.h>

#include "cli/page/page.h"
#include "conf/register.h"
#include "conf/settings.h"
#include "conf/words.h"
#include "daemon/fieldbus/plan.h"

/* What one request and its answer take; devices with a gateway in between take more.
 * Common practice, no source. */
#define ROUND_TRIP_S 0.010

struct check_plan {
	const struct settings *settings;
	struct read_plan **plans; /* by device */
};

void
check_plan_free(struct check_plan *plan)
{
	if (!plan)
		return;
	for (size_t i = 0; plan->plans && i < plan->settings->device_count; i++)
		plan_free(plan->plans[i]);
	free(plan->plans);
	free(plan);
}

struct check_plan *
check_plan_new(const struct settings *settings)
{
	struct check_plan *plan = calloc(1, sizeof *plan);
	bool made;

	if (!plan)
		return NULL;
	plan->settings = settings;
	plan->plans = calloc(settings->device_count + 1, sizeof(struct read_plan *));
	made = plan->plans;
	for (size_t i = 0; made && i < settings->device_count; i++)
		made = (plan->plans[i] = plan_new(settings, (uint32_t)i));
	if (made)
		return plan;
	check_plan_free(plan);
	return NULL;
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

void
check_plan_put(const struct check_plan *plan, struct page *page)
{
	page_field(page, "round_trip_s", NULL, cell_number(ROUND_TRIP_S, 3));
	put_devices(page, plan->settings, plan->plans);
	page_note(page, NULL, TONE_FAINT,
	    "scan s: time on the bus for one scan, at %.0f ms a request (assumed)",
	    ROUND_TRIP_S * 1000);
	put_buses(page, plan->settings, plan->plans);
	put_blocks(page, plan->settings, plan->plans);
}
