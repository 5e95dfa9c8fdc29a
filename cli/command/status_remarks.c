/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_remarks.h"

#include <inttypes.h>
#include <string.h>

#include "cli/page/page.h"
#include "cli/wording/shown.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_health.h"

enum { NAMES_BYTES = 1024, PORT_HINT = SETTINGS_PATH + 64 };

static bool
is_silent(const struct status_device *device)
{
	return strcmp(device->state, "silent") == 0;
}

static bool
is_answering(const struct status_device *device)
{
	return strcmp(device->state, "ok") == 0 ||
	       strcmp(device->state, "in_part") == 0;
}

static bool
is_why(const struct status_device *device, enum ledger_count count)
{
	return strcmp(device->why, ledger_count_name(count)) == 0;
}

/* --- a bus ------------------------------------------------------------------------- */

/* The devices of one bus. */
struct group {
	const struct status_device *members[SETTINGS_DEVICES];
	size_t count, silent, answering;
};

static struct group
group_of(const struct status_devices *devices, const char *bus)
{
	struct group group = {.count = 0};

	for (size_t i = 0; i < devices->count; i++) {
		const struct status_device *device = &devices->list[i];

		if (strcmp(device->bus, bus) != 0)
			continue;
		group.members[group.count++] = device;
		group.silent += is_silent(device);
		group.answering += is_answering(device);
	}
	return group;
}

/* Whether it stands for its bus: the first device on it. */
static bool
is_first(const struct status_devices *devices, size_t index)
{
	for (size_t i = 0; i < index; i++)
		if (strcmp(devices->list[i].bus, devices->list[index].bus) == 0)
			return false;
	return true;
}

static bool
is_dead(const struct group *group)
{
	return group->count > 1 && group->silent == group->count;
}

bool
status_remarks_bus_is_dead(
    const struct status_devices *devices, const struct status_device *device)
{
	struct group group = group_of(devices, device->bus);

	return is_dead(&group);
}

static void
add_name(struct text *names, const struct status_device *device)
{
	text_printf(names, "%s%s", names->length > 0 ? ", " : "", device->device);
}

/* Why they are silent, where that is the same of all; "". */
static const char *
common_text(const struct group *group)
{
	for (size_t i = 1; i < group->count; i++)
		if (strcmp(group->members[i]->text, group->members[0]->text) != 0)
			return "";
	return group->members[0]->text;
}

static bool
somebody_is_lost(const struct group *group)
{
	for (size_t i = 0; i < group->count; i++)
		if (is_why(group->members[i], LEDGER_COUNT_LOST))
			return true;
	return false;
}

/* Of a serial port that was lost, whoever else may have it. */
static void
hint_port(const char *port, char hint[static PORT_HINT])
{
	snprintf(hint, PORT_HINT, "; another program on the port? (fuser %s)", port);
}

static void
tell_dead(struct page *page, const struct group *group)
{
	const struct status_device *first = group->members[0];
	char hint[PORT_HINT] = "", since[CALENDAR_TEXT];
	const char *why = common_text(group);
	struct wall from = {0};
	struct text names;

	text_init(&names, NAMES_BYTES);
	for (size_t i = 0; i < group->count; i++) {
		add_name(&names, group->members[i]);
		if (group->members[i]->row.state_since.ns > from.ns)
			from = group->members[i]->row.state_since;
	}
	if (*first->port && somebody_is_lost(group))
		hint_port(first->port, hint);
	shown_clock(from, clock_wall(), since);
	page_note(page, NULL, TONE_BAD,
	    "wrong: nobody on bus '%s' answers since %s: %s; %s%slook at %s%s",
	    first->bus, since, names.bytes ? names.bytes : "", why, *why ? "; " : "",
	    *first->port ? "port, wires A and B, baud, parity"
			 : "gateway, cable, network",
	    hint);
	text_release(&names);
}

/* One that is silent is waited for, and asked again and again: meanwhile nobody else is. */
static void
tell_late(struct page *page, const struct group *group)
{
	struct text late, silent;
	double worst_s = 0;
	int count = 0;

	text_init(&late, NAMES_BYTES);
	text_init(&silent, NAMES_BYTES);
	for (size_t i = 0; i < group->count; i++) {
		const struct status_device *device = group->members[i];
		double late_s = device->row.late_worst_s;

		if (is_silent(device)) {
			add_name(&silent, device);
		} else if (is_answering(device) && late_s > device->row.period_s) {
			add_name(&late, device);
			worst_s = late_s > worst_s ? late_s : worst_s;
			count++;
		}
	}
	if (late.bytes && silent.bytes)
		page_note(page, NULL, TONE_PLAIN,
		    "%s %s read up to %.1f s late because %s on the same bus %s not "
		    "answer",
		    late.bytes, count == 1 ? "is" : "are", worst_s, silent.bytes,
		    group->silent == 1 ? "does" : "do");
	text_release(&late);
	text_release(&silent);
}

/* --- a device ---------------------------------------------------------------------- */

/* Whether it is wrong: it has lasted, and the device is not wrong already. */
static bool
tell_missing(struct page *page, const struct status_device *device)
{
	const struct ledger_device *row = &device->row;
	bool fault = row->bad_since.ns != 0;
	bool lasts = row->at.ns - row->bad_since.ns > STATUS_SENSOR_S * CLOCK_SECOND_NS;
	bool wrong = fault && lasts && strcmp(device->state, "ok") == 0;
	char at[CALENDAR_TEXT], since[CALENDAR_TEXT + 16] = "";

	if (!is_answering(device) || row->bad_channels == 0)
		return false;
	if (fault) {
		shown_clock(row->bad_since, clock_wall(), at);
		snprintf(since, sizeof since, "; since %s", at);
	}
	page_note(page, NULL, wrong ? TONE_BAD : TONE_PLAIN,
	    "%sdevice %s: %" PRId64 " channel%s without a value: %s%s",
	    wrong ? "wrong: " : "", device->device, row->bad_channels,
	    row->bad_channels == 1 ? "" : "s", device->bad_text, since);
	return wrong;
}

int
status_remarks_wrong(struct page *page, const struct status_devices *devices)
{
	int wrong = 0;

	for (size_t i = 0; i < devices->count; i++) {
		struct group group = group_of(devices, devices->list[i].bus);

		if (is_first(devices, i) && is_dead(&group)) {
			tell_dead(page, &group);
			wrong++;
		}
		wrong += tell_missing(page, &devices->list[i]);
	}
	return wrong;
}

/* --- what to do -------------------------------------------------------------------- */

/* NULL: nothing. */
static const char *const advices[LEDGER_COUNTS] = {
    [LEDGER_COUNT_ILLEGAL] =
	"it has no such register, or not in that table: look with 'evensoak "
	"registers', "
	"then correct table and address, or tell the hole that must not be read",
    [LEDGER_COUNT_BUSY] =
	"it is asked more than it can bear: raise gap_ms or period_ms",
    [LEDGER_COUNT_FAULT] = "it says itself that it is out of order: look at the device",
    [LEDGER_COUNT_GATEWAY] =
	"the gateway answers, the device behind it does not: check unit_id, the "
	"gateway's serial side and the power of the device",
    [LEDGER_COUNT_NONE] =
	"check power and cable, then unit_id and, on a serial line, baud, parity and "
	"stop bits; where it does answer but slowly, raise timeout_ms",
    [LEDGER_COUNT_WRONG] =
	"damaged, or an answer to another request: look for a second master on the "
	"line, two devices with one unit_id, a gateway that mixes its clients, noise "
	"on the cable",
    [LEDGER_COUNT_LOST] =
	"check address and port, that the device takes one client more, or that the "
	"serial port is there and the service may open it",
};

/* Among others that do answer a longer time-out makes those wait. */
static const char among_others[] =
    "others on its bus answer: check power and cable of the device itself, then "
    "unit_id, "
    "baud and parity as it has them; a longer time-out would make the others late";

struct wanted {
	bool counts[LEDGER_COUNTS];
	bool among_others; /* not answered in time on a bus where others do */
	const char *port;  /* a serial one that was lost; NULL: none */
};

static void
want(struct wanted *wanted, const struct status_devices *devices,
    const struct status_device *device, enum ledger_count count)
{
	struct group group = group_of(devices, device->bus);
	size_t others = group.answering - is_answering(device);

	if (count == LEDGER_COUNT_NONE && others > 0)
		wanted->among_others = true;
	else
		wanted->counts[count] = true;
	if (count == LEDGER_COUNT_LOST && *device->port)
		wanted->port = device->port;
}

/* A device that is wrong is told of already. */
static void
tell_often(struct page *page, struct wanted *wanted,
    const struct status_devices *devices, const struct status_device *device)
{
	char since[CALENDAR_TEXT];

	if (strcmp(device->state, "ok") != 0)
		return;
	shown_clock(device->row.recent_since, clock_wall(), since);
	for (int i = LEDGER_COUNT_GOOD; i < LEDGER_COUNTS; i++) {
		int64_t recent = device->row.recent[i];

		if (!status_devices_is_often(device, (enum ledger_count)i))
			continue;
		page_note(page, NULL, TONE_PLAIN,
		    "device %s answers, but of %" PRId64 " requests since %s %" PRId64
		    " %s %s",
		    device->device, status_devices_recent(device), since, recent,
		    recent == 1 ? "was" : "were",
		    status_devices_told((enum ledger_count)i));
		want(wanted, devices, device, (enum ledger_count)i);
	}
}

static void
want_all(struct page *page, const struct status_devices *devices, struct wanted *wanted)
{
	for (size_t i = 0; i < devices->count; i++) {
		const struct status_device *device = &devices->list[i];

		tell_often(page, wanted, devices, device);
		if (status_remarks_bus_is_dead(devices, device))
			continue;
		for (int k = LEDGER_COUNT_GOOD; k < LEDGER_COUNTS; k++)
			if (is_why(device, (enum ledger_count)k))
				want(wanted, devices, device, (enum ledger_count)k);
	}
}

/* Who pulls a plug to try [notify] need not wonder. */
static void
tell_no_event(struct page *page, const struct status_devices *devices)
{
	for (size_t i = 0; i < devices->count; i++) {
		const struct ledger_device *row = &devices->list[i].row;

		if (!is_silent(&devices->list[i]) ||
		    row->at.ns - row->state_since.ns >= LEDGER_HOLD_S * CLOCK_SECOND_NS)
			continue;
		page_note(page, NULL, TONE_PLAIN,
		    "a device that is silent for less than %d s is no event yet; what "
		    "[notify] runs is told some 10 s after that",
		    LEDGER_HOLD_S);
		return;
	}
}

void
status_remarks_advise(struct page *page, const struct status_devices *devices)
{
	struct wanted wanted = {.port = NULL};

	want_all(page, devices, &wanted);
	for (size_t i = 0; i < devices->count; i++) {
		struct group group = group_of(devices, devices->list[i].bus);

		if (is_first(devices, i))
			tell_late(page, &group);
	}
	for (int i = 0; i < LEDGER_COUNTS; i++) {
		const char *told = status_devices_told((enum ledger_count)i);
		char hint[PORT_HINT] = "";

		if (i == LEDGER_COUNT_LOST && wanted.port)
			hint_port(wanted.port, hint);
		if (wanted.counts[i] && advices[i])
			page_note(page, NULL, TONE_PLAIN, "what is %s: %s%s", told,
			    advices[i], hint);
		if (i == LEDGER_COUNT_NONE && wanted.among_others)
			page_note(page, NULL, TONE_PLAIN, "what is %s: %s", told,
			    among_others);
	}
	tell_no_event(page, devices);
}
