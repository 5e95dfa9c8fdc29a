/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/polled.h"

#include <math.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/agenda.h"
#include "daemon/fieldbus/frozen.h"
#include "daemon/fieldbus/missing.h"
#include "daemon/fieldbus/plan.h"
#include "daemon/fieldbus/scanner.h"
#include "daemon/fieldbus/silence.h"

/* Any number of its multiples lie far apart: buses do not all wake at one time. */
#define GOLDEN_RATIO 0.6180339887498949

enum { LEFT_OUT_MAX = 1000 }; /* scans of one gap that are counted as late */

/* --- making ------------------------------------------------------------------------ */

/* A device without channels has nothing to ask for. */
static bool
is_polled(const struct device_settings *device, uint32_t bus)
{
	return device->bus == bus && device->channel_count > 0;
}

static bool
allocate(struct polled_bus *polled, const struct settings *settings, uint32_t bus)
{
	size_t devices = 0, groups = 0;

	for (size_t i = 0; i < settings->device_count; i++)
		if (is_polled(&settings->devices[i], bus)) {
			devices++;
			groups += (size_t)settings->devices[i].group_count;
		}
	polled->plan_count = settings->device_count;
	polled->plans = calloc(settings->device_count + 1, sizeof(struct read_plan *));
	polled->devices = calloc(devices + 1, sizeof *polled->devices);
	polled->groups = calloc(groups + 1, sizeof *polled->groups);
	polled->agenda = agenda_new(groups);
	polled->silence = silence_new(devices);
	return polled->plans && polled->devices && polled->groups && polled->agenda &&
	       polled->silence;
}

/* Its unit's number: that of the first section with the same unit id. */
static size_t
number_unit(
    const struct polled_bus *bus, const struct polled_device *device, size_t *units)
{
	for (size_t i = 0; i < bus->device_count; i++)
		if (bus->devices[i].settings->unit_id == device->settings->unit_id)
			return bus->devices[i].unit;
	return (*units)++;
}

/* 0: there is none yet. */
static void
shorten(int64_t *shortest_ns, int64_t period_ns)
{
	if (*shortest_ns == 0 || period_ns < *shortest_ns)
		*shortest_ns = period_ns;
}

static bool
add_group(struct polled_bus *bus, const struct settings *settings,
    struct polled_device *device, uint32_t index)
{
	const struct group_settings *group = &device->settings->groups[index];
	struct polled_group *polled = &bus->groups[bus->group_count];
	int64_t period_ns = (int64_t)(group->period_s * (double)CLOCK_SECOND_NS);

	polled->device = device;
	polled->at_heat = group->at_heat;
	polled->scanner = scanner_new(
	    settings, bus->plans[device->status.device], index, device->frozen);
	if (!polled->scanner)
		return false;
	bus->agenda->tasks[bus->group_count++].period_ns = period_ns;
	shorten(&bus->fastest_ns, period_ns);
	shorten(&bus->silence->units[device->unit].period_ns, period_ns);
	device->group_count++;
	return true;
}

static bool
add_device(struct polled_bus *bus, const struct settings *settings, uint32_t index,
    size_t *units)
{
	struct polled_device *device = &bus->devices[bus->device_count];

	device->settings = &settings->devices[index];
	device->status = (struct device_status){.device = index, .answering = -1};
	device->unit = number_unit(bus, device, units);
	device->groups = &bus->groups[bus->group_count];
	standing_init(&device->standing, device->settings->name);
	device->frozen = frozen_new(settings, index);
	device->missing = missing_new(settings, index);
	bus->device_count++;
	bus->plans[index] = plan_new(settings, index);
	if (!device->frozen || !device->missing || !bus->plans[index])
		return false;
	for (uint32_t i = 0; i < (uint32_t)device->settings->group_count; i++)
		if (!add_group(bus, settings, device, i))
			return false;
	return true;
}

struct polled_bus *
polled_new(const struct settings *settings, uint32_t bus)
{
	struct polled_bus *polled = calloc(1, sizeof *polled);
	size_t units = 0;
	bool made;

	if (!polled)
		return NULL;
	made = allocate(polled, settings, bus);
	for (uint32_t i = 0; made && i < settings->device_count; i++)
		if (is_polled(&settings->devices[i], bus))
			made = add_device(polled, settings, i, &units);
	if (!made) {
		polled_free(polled);
		return NULL;
	}
	polled->silence->count = units;
	polled->agenda->shift = fmod(bus * GOLDEN_RATIO, 1);
	return polled;
}

void
polled_free(struct polled_bus *bus)
{
	if (!bus)
		return;
	for (size_t i = 0; i < bus->group_count; i++)
		scanner_free(bus->groups[i].scanner);
	for (size_t i = 0; i < bus->device_count; i++) {
		frozen_free(bus->devices[i].frozen);
		missing_free(bus->devices[i].missing);
	}
	for (size_t i = 0; bus->plans && i < bus->plan_count; i++)
		plan_free(bus->plans[i]);
	free(bus->plans);
	free(bus->devices);
	free(bus->groups);
	free(bus->agenda);
	free(bus->silence);
	free(bus);
}

/* --- when -------------------------------------------------------------------------- */

void
polled_start(struct polled_bus *bus, struct mono now)
{
	for (size_t i = 0; i < bus->group_count; i++)
		bus->agenda->tasks[i].due = now;
}

struct mono
polled_due(
    const struct polled_bus *bus, const struct polled_group *group, struct mono now)
{
	struct mono due = bus->agenda->tasks[group - bus->groups].due;

	if (due.ns > now.ns)
		return now;
	if (due.ns < now.ns - bus->fastest_ns)
		due.ns = now.ns - bus->fastest_ns;
	return due;
}

void
polled_want_unit(struct polled_bus *bus, size_t unit, const struct polled_group *but)
{
	for (size_t i = 0; i < bus->group_count; i++) {
		const struct polled_group *group = &bus->groups[i];

		if (group != but && group->device->unit == unit &&
		    group->outcome == SCAN_OUTCOME_SILENT)
			bus->agenda->tasks[i].wanted = true;
	}
}

void
polled_want_lines(struct polled_bus *bus, uint64_t lines)
{
	for (size_t i = 0; i < bus->group_count; i++) {
		const struct polled_group *group = &bus->groups[i];

		if (group->at_heat && lines >> group->device->settings->line & 1)
			bus->agenda->tasks[i].wanted = true;
	}
}

/* --- what became of it ------------------------------------------------------------- */

void
polled_note_late(struct polled_group *group, struct mono now, int64_t late_ns)
{
	struct polled_device *device = group->device;
	int64_t period_ns =
	    (int64_t)(device->settings->groups[group - device->groups].period_s *
		      (double)CLOCK_SECOND_NS);

	device->status.late += late_ns >= period_ns;
	for (int i = 0; late_ns >= 0 && i < LEFT_OUT_MAX; i++, late_ns -= period_ns)
		lateness_add(&device->lateness, now, late_ns);
}

static enum scan_outcome
combine(const struct polled_device *device, enum scan_outcome outcome)
{
	for (size_t i = 0; outcome == SCAN_OUTCOME_FULL && i < device->group_count; i++)
		if (device->groups[i].outcome == SCAN_OUTCOME_PART)
			return SCAN_OUTCOME_PART;
	return outcome;
}

enum scan_outcome
polled_note_outcome(struct polled_group *group, enum scan_outcome outcome)
{
	struct polled_device *device = group->device;
	struct device_status *status = &device->status;
	const struct scan *scan = scanner_scan(group->scanner);
	int answering;
	bool in_part;

	group->outcome = outcome;
	status->scans++;
	if (outcome != SCAN_OUTCOME_SILENT)
		missing_note(device->missing, scan);
	if (outcome != SCAN_OUTCOME_FULL) {
		status->failures++;
		text_copy(status->text, sizeof status->text, device->why.text);
	}
	outcome = combine(device, outcome);
	answering = outcome == SCAN_OUTCOME_FULL;
	in_part = outcome == SCAN_OUTCOME_PART;
	if (status->answering != answering || status->in_part != in_part)
		status->since = scan->wall;
	status->answering = answering;
	status->in_part = in_part;
	return outcome;
}

struct device_status
polled_status(const struct polled_device *device)
{
	struct device_status status = device->status;

	status.late_p99_ms = lateness_quantile_ms(&device->lateness, 0.99);
	status.late_worst_ms = lateness_worst_ms(&device->lateness);
	if (status.answering == 1 || status.in_part) {
		status.bad_channels = missing_count(device->missing, &status.bad_since);
		missing_text(device->missing, status.bad_text, sizeof status.bad_text);
	}
	return status;
}
