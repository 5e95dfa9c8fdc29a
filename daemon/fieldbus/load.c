/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/load.h"

#include <math.h>
#include <stdarg.h>
#include <stdio.h>

#include "conf/register.h"
#include "conf/settings.h"
#include "daemon/fieldbus/character.h"
#include "daemon/fieldbus/frame.h"
#include "daemon/fieldbus/plan.h"
#include "daemon/fieldbus/silence.h"

#define TURN_ROUND_S 0.020

enum { ANSWER_BYTES = 5 }; /* unit, function, byte count, CRC: and the data */

/* From a request's first character until the answer's last. */
static double
answer_s(const struct bus_settings *bus, const struct read_block *block)
{
	size_t bytes = FRAME_RTU_REQUEST_BYTES + ANSWER_BYTES + frame_data_bytes(block);

	return (double)bytes * character_s(bus) + TURN_ROUND_S;
}

static double
serial_s(const struct bus_settings *bus, const struct read_block *block)
{
	return answer_s(bus, block) + 2 * character_silence_s(bus);
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

/* The longest request of a group. */
static double
longest_of(const struct settings *settings, const struct read_plan *plan, int group)
{
	const struct device_settings *device = &settings->devices[plan->device];
	const struct plan_group *blocks = &plan->groups[group];
	double longest_s = 0;

	for (size_t i = 0; i < blocks->count; i++)
		longest_s =
		    fmax(longest_s, load_request_s(&settings->buses[device->bus],
					device, &plan->blocks[blocks->first + i]));
	return longest_s;
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

/* Requests that cannot be answered within the time-out: the worst of a device; 1 when
 * there is one. */
static int
tell_time_out(const struct judge *judge, const struct read_plan *plan)
{
	const struct device_settings *device = &judge->settings->devices[plan->device];
	const struct bus_settings *bus = &judge->settings->buses[judge->bus];
	const struct read_block *worst = NULL;
	double worst_s = 0;
	char text[32];

	for (size_t i = 0; i < plan->block_count; i++) {
		double s = answer_s(bus, &plan->blocks[i]);

		if (s <= worst_s)
			continue;
		worst_s = s;
		worst = &plan->blocks[i];
	}
	if (!worst || worst_s < device->timeout_s)
		return 0;
	frame_block_text(worst, text, sizeof text);
	tell(judge, LOAD_IMPOSSIBLE,
	    "bus '%s' takes %.0f ms until device '%s' has answered for %s, and its "
	    "timeout_ms is %.0f: %sraise timeout_ms",
	    bus->name, round_up(to_ms(worst_s)), device->name, text,
	    to_ms(device->timeout_s),
	    register_is_bit(worst->table) || worst->count == 1
		? ""
		: "lower max_registers or ");
	return 1;
}

/* The longest request of the bus that a group may have to wait for: another group's. */
static double
find_longest(const struct judge *judge, size_t device, int group,
    const struct device_settings **whose)
{
	const struct settings *settings = judge->settings;
	double longest_s = 0;

	for (size_t d = 0; d < settings->device_count; d++) {
		const struct device_settings *one = &settings->devices[d];

		if (!is_on(settings, judge->plans, d, judge->bus))
			continue;
		for (int g = 0; g < one->group_count; g++) {
			double s = longest_of(settings, judge->plans[d], g);

			if ((d == device && g == group) || s <= longest_s)
				continue;
			longest_s = s;
			*whose = one;
		}
	}
	return longest_s;
}

/* A request cannot be broken off: what is due meanwhile waits. */
static bool
tell_blocking_of(const struct judge *judge, size_t device, int group)
{
	const struct settings *settings = judge->settings;
	const struct device_settings *one = &settings->devices[device], *longest = NULL;
	double longest_s = find_longest(judge, device, group, &longest);

	if (!longest ||
	    longest_s + load_group_s(settings, judge->plans[device], group) <=
		one->groups[group].period_s)
		return false;
	tell(judge, LOAD_LATE,
	    "bus '%s': a request to device '%s' takes %.0f ms, too long for what is "
	    "read of '%s' every %.0f ms: now and then that is late; lower "
	    "max_registers of '%s'",
	    settings->buses[judge->bus].name, longest->name, to_ms(longest_s),
	    one->name, to_ms(one->groups[group].period_s), longest->name);
	return true;
}

/* Of the first that has to wait. */
static void
tell_blocking(const struct judge *judge)
{
	for (size_t d = 0; d < judge->settings->device_count; d++)
		for (int g = 0; is_on(judge->settings, judge->plans, d, judge->bus) &&
				g < judge->settings->devices[d].group_count;
		     g++)
			if (tell_blocking_of(judge, d, g))
				return;
}

/* --- while a device does not answer ------------------------------------------------ */

/* Of another unit that is read every period_s: by one attempt where the pauses begin
 * with the first failure, else by all of those before. */
static double
deaf_s(enum bus_kind kind, double timeout_s, double period_s)
{
	/* On a serial line we listen for as long again. */
	double attempt_s = kind == BUS_SERIAL ? 2 * timeout_s : timeout_s;

	return attempt_s > SILENCE_PATIENCE * period_s ? attempt_s
	                                               : SILENCE_FAILURES * attempt_s;
}

/* The pair on one bus that it is worst for. */
static void
tell_deafness(const struct judge *judge)
{
	const struct settings *settings = judge->settings;
	const struct bus_settings *bus = &settings->buses[judge->bus];
	const struct device_settings *dead = NULL, *deaf = NULL;
	double worst = 1;

	for (size_t d = 0; d < settings->device_count; d++)
		for (size_t k = 0; k < settings->device_count; k++) {
			const struct device_settings *one = &settings->devices[d];
			const struct device_settings *other = &settings->devices[k];

			if (!is_on(settings, judge->plans, d, judge->bus) ||
			    !is_on(settings, judge->plans, k, judge->bus) ||
			    one->unit_id == other->unit_id || one->group_count == 0 ||
			    other->group_count == 0 ||
			    one->timeout_s <= worst * other->groups[0].period_s)
				continue;
			worst = one->timeout_s / other->groups[0].period_s;
			dead = one;
			deaf = other;
		}
	if (!dead)
		return;
	tell(judge, LOAD_DEAF,
	    "bus '%s': while '%s' does not answer, '%s' and others are read up to "
	    "%.1f s late: lower timeout_ms of '%s', now %.0f",
	    bus->name, dead->name, deaf->name,
	    deaf_s(bus->kind, dead->timeout_s, deaf->groups[0].period_s), dead->name,
	    to_ms(dead->timeout_s));
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
			found += tell_groups(&judge, plans[d]) +
			         tell_time_out(&judge, plans[d]);
	if (found == 0 && busy_s > 1) {
		tell_overload(&judge, busy_s);
		found = serial;
	}
	if (serial && found == 0)
		tell_blocking(&judge);
	if (found == 0)
		tell_deafness(&judge);
	return found == 0;
}
