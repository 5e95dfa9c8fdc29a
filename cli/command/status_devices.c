/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_devices.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/page/page.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* A device that answers is told of when one in so many requests fails; a source there is
 * none for the number. */
enum { OFTEN = 100 };

/* --- those on file ------------------------------------------------------------------ */

static int
keep(void *arg, const struct ledger_device *row)
{
	struct status_devices *devices = arg;
	struct status_device *to = &devices->list[devices->count];

	if (devices->count == SETTINGS_DEVICES)
		return 1;
	devices->count++;
	text_copy(to->device, sizeof to->device, row->device);
	text_copy(to->line, sizeof to->line, row->line);
	text_copy(to->bus, sizeof to->bus, row->bus);
	text_copy(to->state, sizeof to->state, row->state);
	text_copy(to->why, sizeof to->why, row->why);
	text_copy(to->port, sizeof to->port, row->port);
	text_copy(to->bad_text, sizeof to->bad_text, row->bad_text);
	to->row = *row;
	to->row.device = to->device;
	to->row.line = to->line;
	to->row.bus = to->bus;
	to->row.state = to->state;
	to->row.why = to->why;
	to->row.port = to->port;
	to->row.bad_text = to->bad_text;
	return 0;
}

struct status_devices *
status_devices_read(struct ledger_read *ledger, struct error *error)
{
	struct status_devices *devices = calloc(1, sizeof *devices);

	if (!devices) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	if (ledger_read_devices(ledger, keep, devices, error) == 0)
		return devices;
	free(devices);
	return NULL;
}

struct status_device *
status_devices_find(struct status_devices *devices, const char *subject)
{
	static const char kind[] = "device ";

	if (strncmp(subject, kind, sizeof kind - 1) != 0)
		return NULL;
	for (size_t i = 0; i < devices->count; i++)
		if (strcmp(devices->list[i].device, subject + sizeof kind - 1) == 0)
			return &devices->list[i];
	return NULL;
}

/* How a count is told to people. */
static const struct kind {
	const char *title, *told; /* told NULL: nothing to do about it */
} kinds[LEDGER_COUNTS] = {
    [LEDGER_COUNT_SCANS] = {NULL, NULL},
    [LEDGER_COUNT_FAILURES] = {NULL, NULL},
    [LEDGER_COUNT_LATE] = {"late", NULL},
    [LEDGER_COUNT_OPENED] = {"connections", NULL},
    [LEDGER_COUNT_GOOD] = {"answered", NULL},
    [LEDGER_COUNT_ILLEGAL] = {"refused", "refused as an illegal address"},
    [LEDGER_COUNT_BUSY] = {"busy", "answered with 'busy'"},
    [LEDGER_COUNT_FAULT] = {"fault", "answered with a fault of its own"},
    [LEDGER_COUNT_GATEWAY] = {"gateway", "not passed on by the gateway"},
    [LEDGER_COUNT_NONE] = {"timed out", "not answered in time"},
    [LEDGER_COUNT_WRONG] = {"wrong", "answered wrongly"},
    [LEDGER_COUNT_LOST] = {"lost", "lost with the connection or the port"},
};

const char *
status_devices_told(enum ledger_count count)
{
	return kinds[count].told;
}

static int64_t
sum(const int64_t counts[static LEDGER_COUNTS])
{
	int64_t all = 0;

	for (int i = LEDGER_COUNT_GOOD; i < LEDGER_COUNTS; i++)
		all += counts[i];
	return all;
}

int64_t
status_devices_requests(const struct status_device *device)
{
	return sum(device->row.counts);
}

int64_t
status_devices_recent(const struct status_device *device)
{
	return sum(device->row.recent);
}

bool
status_devices_is_often(const struct status_device *device, enum ledger_count count)
{
	int64_t recent = device->row.recent[count];

	return kinds[count].told != NULL && recent > 0 &&
	       recent >= status_devices_recent(device) / OFTEN;
}

/* --- the table ---------------------------------------------------------------------- */

/* As they stand in it. */
static const enum ledger_count order[LEDGER_COUNTS] = {LEDGER_COUNT_GOOD,
    LEDGER_COUNT_ILLEGAL, LEDGER_COUNT_BUSY, LEDGER_COUNT_FAULT, LEDGER_COUNT_GATEWAY,
    LEDGER_COUNT_NONE, LEDGER_COUNT_WRONG, LEDGER_COUNT_LOST, LEDGER_COUNT_OPENED,
    LEDGER_COUNT_SCANS, LEDGER_COUNT_FAILURES, LEDGER_COUNT_LATE};

enum {
	FIRST_COUNTS = 10, /* columns before the counts */
	LAST_COUNTS = FIRST_COUNTS + LEDGER_COUNTS,
	COLUMNS = LAST_COUNTS + 7,
};

static void
put_device(struct page *page, const struct status_device *device)
{
	const struct ledger_device *row = &device->row;
	struct cell cells[COLUMNS] = {
	    cell_words(row->device),
	    cell_words(row->line),
	    cell_words(row->bus),
	    cell_count(row->bad_channels),
	    cell_words(row->state),
	    shown_name(row->why),
	    cell_time(row->since),
	    cell_time(row->state_since),
	    cell_time(row->at),
	    cell_count(status_devices_requests(device)),
	};
	const struct cell last[COLUMNS - LAST_COUNTS] = {
	    cell_shown(row->late_p99_s, row->late_p99_s * 1e3, 1),
	    cell_shown(row->late_worst_s, row->late_worst_s * 1e3, 1),
	    shown_name(row->bad_text),
	    cell_time(row->bad_since),
	    cell_time(row->recent_since),
	    cell_count(status_devices_recent(device)),
	    cell_count(row->recent[LEDGER_COUNT_GOOD]),
	};

	for (int i = 0; i < LEDGER_COUNTS; i++) {
		cells[FIRST_COUNTS + i] = cell_count(row->counts[order[i]]);
		if (status_devices_is_often(device, order[i]))
			cells[FIRST_COUNTS + i].tone = TONE_BAD;
	}
	memcpy(cells + LAST_COUNTS, last, sizeof last);
	if (row->bad_channels > 0)
		cells[3].tone = TONE_BAD;
	page_row(page, cells);
}

/* What there is of all devices together. */
struct seen {
	int64_t sums[LEDGER_COUNTS], bad_channels;
	bool lateness; /* somebody's is known */
	struct wall since;
};

static struct seen
sum_up(const struct status_devices *devices)
{
	struct seen seen = {0};

	for (size_t i = 0; i < devices->count; i++) {
		const struct ledger_device *row = &devices->list[i].row;

		for (int k = 0; k < LEDGER_COUNTS; k++)
			seen.sums[k] += row->counts[k];
		seen.bad_channels += row->bad_channels;
		seen.lateness |= isfinite(row->late_p99_s) != 0;
		seen.since = row->since;
	}
	return seen;
}

/* Those of failures are for people only when there are some. */
static void
choose_columns(const struct seen *seen, struct column columns[static COLUMNS])
{
	const struct column first[FIRST_COUNTS] = {
	    {"device", "device", 0},
	    {"line", NULL, 0},
	    {"bus", "bus", 0},
	    {"bad_channels", seen->bad_channels > 0 ? "no value" : NULL, 0},
	    {"state", NULL, 0},
	    {"why", NULL, 0},
	    {"since", NULL, 0},
	    {"state_since", NULL, 0},
	    {"at", NULL, 0},
	    {"requests", "requests", 0},
	};
	const struct column last[COLUMNS - LAST_COUNTS] = {
	    {"late_p99_s", seen->lateness ? "late ms" : NULL, 0},
	    {"late_worst_s", seen->lateness ? "latest ms" : NULL, 0},
	    {"bad", NULL, 0},
	    {"bad_since", NULL, 0},
	    {"recent_since", NULL, 0},
	    {"recent_requests", NULL, 0},
	    {"recent_good", NULL, 0},
	};

	memcpy(columns, first, sizeof first);
	for (int i = 0; i < LEDGER_COUNTS; i++)
		columns[FIRST_COUNTS + i] = (struct column){ledger_count_name(order[i]),
		    seen->sums[order[i]] > 0 ? kinds[order[i]].title : NULL, 0};
	memcpy(columns + LAST_COUNTS, last, sizeof last);
}

void
status_devices_put(
    struct page *page, const struct status_devices *devices, bool current)
{
	struct seen seen = sum_up(devices);
	struct column columns[COLUMNS];
	char heading[CALENDAR_TEXT + 64], since[CALENDAR_TEXT];

	shown_clock(seen.since, clock_wall(), since);
	snprintf(heading, sizeof heading, "Buses: requests%s since %s",
	    current ? "" : ", as the daemon last wrote,", since);
	choose_columns(&seen, columns);
	page_table(page, "devices", heading, columns, COLUMNS);
	for (size_t i = 0; i < devices->count; i++)
		put_device(page, &devices->list[i]);
	page_table_end(page);
	if (seen.lateness)
		page_note(page, NULL, TONE_FAINT,
		    "late: 99 of 100 reads of the last one to two hours began within "
		    "so many ms of their time; latest: all of them");
}
