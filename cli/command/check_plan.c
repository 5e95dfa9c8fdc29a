/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_plan.h"

#include <stdio.h>
#include <stdlib.h>

#include "cli/page/page.h"
#include "conf/register.h"
#include "conf/settings.h"
#include "conf/words.h"
#include "daemon/fieldbus/load.h"
#include "daemon/fieldbus/plan.h"

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

/* Keys are for machines and stay: periods and times in seconds, loads as ratios of the
 * bus's time. */
static void
put_devices(const struct check_plan *plan, struct page *page)
{
	static const struct column columns[] = {
	    {"device", "device", 0}, {"line", "line", 0}, {"bus", "bus", 0},
	    {"unit_id", "unit", 0}, {"channels", "channels", 0},
	    {"groups", "groups", 0},
	    {"requests", "requests", 0}, /* of all groups, as are the next ones */
	    {"period_s", NULL, 0},       /* of channels that tell no other */
	    {"scan_s", NULL, 0},         /* time on the bus for each group once */
	    {"load_ratio", "load %", 0}, /* of the bus's time */
	};
	const struct settings *settings = plan->settings;

	page_table(
	    page, "devices", "Devices", columns, sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < settings->device_count; i++) {
		const struct device_settings *device = &settings->devices[i];
		double scan_s = 0, load = 0;

		for (int g = 0; g < device->group_count; g++) {
			double group_s = load_group_s(settings, plan->plans[i], g);

			scan_s += group_s;
			load += group_s / device->groups[g].period_s;
		}
		const struct cell cells[] = {
		    cell_words(device->name),
		    cell_words(settings->lines[device->line].name),
		    cell_words(settings->buses[device->bus].name),
		    cell_count(device->unit_id),
		    cell_count(device->channel_count),
		    cell_count(device->group_count),
		    cell_count((int64_t)plan->plans[i]->block_count),
		    cell_number(device->period_s, 2),
		    cell_number(scan_s, 3),
		    cell_shown(load, load * 100, 1),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_group(const struct check_plan *plan, struct page *page, size_t device, int group)
{
	const struct device_settings *one = &plan->settings->devices[device];
	const struct group_settings *settings = &one->groups[group];
	const struct read_plan *reads = plan->plans[device];
	double scan_s = load_group_s(plan->settings, reads, group);
	double load = scan_s / settings->period_s;
	const struct cell cells[] = {
	    cell_words(one->name),
	    cell_count(group + 1),
	    cell_number(settings->period_s, 2),
	    cell_truth(settings->at_heat),
	    cell_count(settings->count),
	    cell_count((int64_t)reads->groups[group].count),
	    cell_number(scan_s, 3),
	    cell_shown(load, load * 100, 1),
	};

	page_row(page, cells);
}

static void
put_groups(const struct check_plan *plan, struct page *page)
{
	static const struct column columns[] = {
	    {"device", "device", 0}, {"group", "group", 0}, /* from 1: the fastest */
	    {"period_s", "period s", 0},
	    {"at_heat", "at heat", 0}, /* read as a heat begins too */
	    {"channels", "channels", 0}, {"requests", "requests", 0}, /* for one scan */
	    {"scan_s", "scan s", 0},     /* time on the bus of one scan */
	    {"load_ratio", "load %", 0}, /* of the bus's time */
	};

	page_table(page, "groups", "Groups: what is read together", columns,
	    sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < plan->settings->device_count; i++)
		for (int g = 0; g < plan->plans[i]->group_count; g++)
			put_group(plan, page, i, g);
	page_table_end(page);
}

/* "19200 8E1"; "" for a socket. */
static void
mode_text(const struct bus_settings *bus, char *text, size_t size)
{
	static const char parities[] = {'N', 'E', 'O'}; /* by enum parity */

	*text = '\0';
	if (bus->kind == BUS_SERIAL)
		snprintf(text, size, "%d 8%c%d", bus->baud, parities[bus->parity],
		    bus->stop_bits);
}

static void
put_buses(const struct check_plan *plan, struct page *page)
{
	static const struct column columns[] = {
	    {"bus", "bus", 0},
	    {"kind", "kind", 0}, /* tcp, whose times are assumed, or serial */
	    {"mode", "mode", 0}, /* baud rate, data bits, parity, stop bits */
	    {"devices", "devices", 0}, {"requests_per_s", "requests a s", 0},
	    {"busy_s", "busy s a s", 0}, /* time that a second of reading takes */
	    {"load_ratio", "load %", 0}, /* the same as a ratio */
	};
	const struct settings *settings = plan->settings;

	page_table(page, "buses", "Buses", columns, sizeof columns / sizeof columns[0]);
	for (uint32_t i = 0; i < settings->bus_count; i++) {
		const struct bus_settings *bus = &settings->buses[i];
		struct bus_load load = load_bus(settings, plan->plans, i);
		char mode[40];

		mode_text(bus, mode, sizeof mode);
		const struct cell cells[] = {
		    cell_words(bus->name),
		    cell_words(bus->kind == BUS_SERIAL ? "serial" : "tcp"),
		    *mode ? cell_words(mode) : cell_absent(""),
		    cell_count(load.devices),
		    cell_number(load.requests, 2),
		    cell_number(load.busy_s, 3),
		    cell_shown(load.busy_s, load.busy_s * 100, 1),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

static void
put_block(const struct check_plan *plan, struct page *page, size_t device, int group,
    size_t index)
{
	const struct read_plan *reads = plan->plans[device];
	const struct read_block *block = &reads->blocks[index];
	int64_t channels = 0;

	for (uint32_t c = 0; c < reads->channel_count; c++)
		channels += reads->places[c].block == index;
	const struct cell cells[] = {
	    cell_words(plan->settings->devices[device].name),
	    cell_words(words_table.list[block->table]),
	    cell_count(register_function(block->table)),
	    cell_count(block->first),
	    cell_count(block->first + block->count - 1),
	    cell_count(block->count),
	    cell_count(channels),
	    cell_count(group + 1),
	};
	page_row(page, cells);
}

static void
put_blocks(const struct check_plan *plan, struct page *page)
{
	static const struct column columns[] = {
	    {"device", "device", 0},
	    {"table", "table", 0},
	    {"function", "function", 0},
	    {"first", "first", 0}, /* addresses as on the wire, from 0 */
	    {"last", "last", 0},
	    {"count", "count", 0}, /* registers or bits */
	    {"channels", "channels", 0},
	    {"group", "group", 0},
	};

	page_table(page, "blocks", "Read plan: one request each", columns,
	    sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < plan->settings->device_count; i++)
		for (int g = 0; g < plan->plans[i]->group_count; g++) {
			const struct plan_group *group = &plan->plans[i]->groups[g];

			for (size_t b = 0; b < group->count; b++)
				put_block(plan, page, i, g, group->first + b);
		}
	page_table_end(page);
}

static void
put_trouble(void *arg, enum load_trouble trouble, const char *sentence)
{
	struct page *page = arg;

	page_open(page, GROUP_ITEM, NULL, NULL);
	page_note(
	    page, NULL, trouble == LOAD_DEAF ? TONE_PLAIN : TONE_BAD, "%s", sentence);
	page_field(page, "impossible", NULL, cell_truth(trouble == LOAD_IMPOSSIBLE));
	page_field(page, "text", NULL, cell_words(sentence));
	page_close(page);
}

static void
put_troubles(const struct check_plan *plan, struct page *page)
{
	page_open(page, GROUP_LIST, "bus_troubles", NULL);
	for (uint32_t i = 0; i < plan->settings->bus_count; i++)
		load_judge(plan->settings, plan->plans, i, put_trouble, page);
	page_close(page);
}

static void
keep_quiet(void *arg, enum load_trouble trouble, const char *sentence)
{
	(void)arg, (void)trouble, (void)sentence;
}

bool
check_plan_fits(const struct check_plan *plan)
{
	for (uint32_t i = 0; i < plan->settings->bus_count; i++)
		if (!load_judge(plan->settings, plan->plans, i, keep_quiet, NULL))
			return false;
	return true;
}

static bool
has_bus(const struct settings *settings, enum bus_kind kind)
{
	for (size_t i = 0; i < settings->bus_count; i++)
		if (settings->buses[i].kind == kind)
			return true;
	return false;
}

void
check_plan_put(const struct check_plan *plan, struct page *page)
{
	page_field(page, "round_trip_s", NULL, cell_number(LOAD_ROUND_TRIP_S, 3));
	put_devices(plan, page);
	put_groups(plan, page);
	put_buses(plan, page);
	if (has_bus(plan->settings, BUS_TCP))
		page_note(page, NULL, TONE_FAINT,
		    "times of tcp at %.0f ms a request (assumed)",
		    LOAD_ROUND_TRIP_S * 1000);
	if (has_bus(plan->settings, BUS_SERIAL))
		page_note(page, NULL, TONE_FAINT,
		    "times of a serial line by its baud rate, with 20 ms for a device "
		    "to answer (assumed)");
	put_troubles(plan, page);
	put_blocks(plan, page);
}
