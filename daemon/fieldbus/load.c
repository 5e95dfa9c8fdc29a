/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/load.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "conf/register.h"
#include "conf/settings.h"
#include "daemon/fieldbus/plan.h"

#define TURN_ROUND_S 0.020
#define SILENCE_CHARACTERS 3.5
#define FAST_SILENCE_S 0.00175

enum {
	FAST_BAUD = 19200,
	REQUEST_BYTES = 8, /* unit, function, first, count, CRC */
	ANSWER_BYTES = 5,  /* unit, function, byte count, CRC: and the data */
};

static int
data_bytes(const struct read_block *block)
{
	return register_is_bit(block->table) ? (block->count + 7) / 8
	                                     : 2 * block->count;
}

static double
serial_s(const struct bus_settings *bus, const struct read_block *block)
{
	int bits = 1 + 8 + (bus->parity != PARITY_NONE) + bus->stop_bits;
	double character_s = (double)bits / bus->baud;
	double silence_s =
	    bus->baud > FAST_BAUD ? FAST_SILENCE_S : SILENCE_CHARACTERS * character_s;
	int bytes = REQUEST_BYTES + ANSWER_BYTES + data_bytes(block);

	return bytes * character_s + 2 * silence_s + TURN_ROUND_S;
}

double
load_request_s(const struct bus_settings *bus, const struct device_settings *device,
    const struct read_block *block)
{
	double request_s =
	    bus->kind == BUS_SERIAL ? serial_s(bus, block) : LOAD_ROUND_TRIP_S;

	return request_s + device->gap_s;
}

double
load_group_s(const struct settings *settings, const struct read_plan *plan, int group)
{
	const struct device_settings *device = &settings->devices[plan->device];
	const struct plan_group *blocks = &plan->groups[group];
	double group_s = 0;

	for (size_t i = 0; i < blocks->count; i++)
		group_s += load_request_s(&settings->buses[device->bus], device,
		    &plan->blocks[blocks->first + i]);
	return group_s;
}

static bool
is_on(const struct settings *settings, struct read_plan *const *plans, size_t device,
    uint32_t bus)
{
	return settings->devices[device].bus == bus && plans[device];
}

static double
device_busy_s(const struct settings *settings, const struct read_plan *plan)
{
	const struct device_settings *device = &settings->devices[plan->device];
	double busy_s = 0;

	for (int i = 0; i < plan->group_count; i++)
		busy_s += load_group_s(settings, plan, i) / device->groups[i].period_s;
	return busy_s;
}

struct bus_load
load_bus(const struct settings *settings, struct read_plan *const *plans, uint32_t bus)
{
	struct bus_load load = {0};

	for (size_t d = 0; d < settings->device_count; d++) {
		if (!is_on(settings, plans, d, bus))
			continue;
		load.devices++;
		load.busy_s += device_busy_s(settings, plans[d]);
		for (int i = 0; i < plans[d]->group_count; i++)
			load.requests += (double)plans[d]->groups[i].count /
			                 settings->devices[d].groups[i].period_s;
	}
	return load;
}

/* --- judging ---------------------------------------------------------------------- */

struct judge {
	const struct settings *settings;
	struct read_plan *const *plans;
	uint32_t bus;
	load_sink *sink;
	void *arg;
};

static void __attribute__((format(printf, 3, 4)))
tell(const struct judge *judge, enum load_trouble trouble, const char *format, ...)
{
	char sentence[512];
	va_list arguments;

	va_start(arguments, format);
	vsnprintf(sentence, sizeof sentence, format, arguments);
	va_end(arguments);
	judge->sink(judge->arg, trouble, sentence);
}

static double
to_ms(double seconds)
{
	return seconds * 1000;
}

/* Up to a whole number, but for what is a whole one but for rounding. */
static double
round_up(double value)
{
	return ceil(value - 1e-9 * value);
}

/* Groups that take longer than their period; how many. */
static int
tell_groups(const struct judge *judge, const struct read_plan *plan)
{
	const struct device_settings *device = &judge->settings->devices[plan->device];
	int found = 0;

	for (int i = 0; i < plan->group_count; i++) {
		double group_s = load_group_s(judge->settings, plan, i);
		double period_s = device->groups[i].period_s;

		if (group_s <= period_s)
			continue;
		found++;
		tell(judge, LOAD_IMPOSSIBLE,
		    "bus '%s' takes %.0f ms to read the channels of device '%s' that "
		    "are due every %.0f ms: lengthen their period_ms to %.0f at least",
		    judge->settings->buses[judge->bus].name, round_up(to_ms(group_s)),
		    device->name, to_ms(period_s), round_up(to_ms(group_s)));
	}
	return found;
}

/* The device that takes most of the bus. */
static const struct device_settings *
find_busiest(const struct judge *judge, double *busy_s)
{
	const struct device_settings *busiest = NULL;

	for (size_t d = 0; d < judge->settings->device_count; d++) {
		double one_s;

		if (!is_on(judge->settings, judge->plans, d, judge->bus))
			continue;
		one_s = device_busy_s(judge->settings, judge->plans[d]);
		if (!busiest || one_s > *busy_s) {
			busiest = &judge->settings->devices[d];
			*busy_s = one_s;
		}
	}
	return busiest;
}

static void
tell_overload(const struct judge *judge, double busy_s)
{
	const struct bus_settings *bus = &judge->settings->buses[judge->bus];
	double most_s = 0;
	const struct device_settings *busiest = find_busiest(judge, &most_s);

	if (bus->kind == BUS_SERIAL)
		tell(judge, LOAD_IMPOSSIBLE,
		    "bus '%s' needs %.0f %% of its time: lengthen period_ms, of device "
		    "'%s' first, which takes %.0f %%",
		    bus->name, round_up(busy_s * 100), busiest->name, most_s * 100);
	else
		tell(judge, LOAD_LATE,
		    "'%s' needs %.0f %% of its time if a request takes %.0f ms: "
		    "readings will be late; lengthen period_ms or close holes",
		    bus->name, round_up(busy_s * 100), to_ms(LOAD_ROUND_TRIP_S));
}

/* The longest request of the bus. */
static double
find_longest(const struct judge *judge, const struct device_settings **device)
{
	const struct settings *settings = judge->settings;
	double longest_s = 0;

	for (size_t d = 0; d < settings->device_count; d++) {
		const struct device_settings *one = &settings->devices[d];

		if (!is_on(settings, judge->plans, d, judge->bus))
			continue;
		for (size_t i = 0; i < judge->plans[d]->block_count; i++) {
			double s = load_request_s(&settings->buses[judge->bus], one,
			    &judge->plans[d]->blocks[i]);

			if (s <= longest_s)
				continue;
			longest_s = s;
			*device = one;
		}
	}
	return longest_s;
}

/* A request cannot be broken off: what is due meanwhile waits. */
static void
tell_blocking(const struct judge *judge)
{
	const struct settings *settings = judge->settings;
	const struct device_settings *longest = NULL;
	double longest_s = find_longest(judge, &longest);

	for (size_t d = 0; d < settings->device_count; d++) {
		const struct device_settings *one = &settings->devices[d];
		const struct read_plan *plan = judge->plans[d];

		/* The first group is the fastest. */
		if (!is_on(settings, judge->plans, d, judge->bus) || one == longest ||
		    plan->group_count == 0 ||
		    longest_s + load_group_s(settings, plan, 0) <=
			one->groups[0].period_s)
			continue;
		tell(judge, LOAD_LATE,
		    "bus '%s': a request to device '%s' takes %.0f ms, too long for "
		    "what is read of '%s' every %.0f ms: now and then that is late; "
		    "lower max_registers of '%s'",
		    settings->buses[judge->bus].name, longest->name, to_ms(longest_s),
		    one->name, to_ms(one->groups[0].period_s), longest->name);
		return;
	}
}

bool
load_judge(const struct settings *settings, struct read_plan *const *plans,
    uint32_t bus, load_sink *sink, void *arg)
{
	const struct judge judge = {settings, plans, bus, sink, arg};
	bool serial = settings->buses[bus].kind == BUS_SERIAL;
	double busy_s = load_bus(settings, plans, bus).busy_s;
	int found = 0;

	for (size_t d = 0; serial && d < settings->device_count; d++)
		if (is_on(settings, plans, d, bus))
			found += tell_groups(&judge, plans[d]);
	if (found == 0 && busy_s > 1) {
		tell_overload(&judge, busy_s);
		found = serial;
	}
	if (serial && found == 0)
		tell_blocking(&judge);
	return found == 0;
}
