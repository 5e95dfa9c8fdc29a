/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_devices.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/shown.h"
#include "cli/page/page.h"
#include "daemon/ledger/ledger_read.h"

/* A device that answers is told of when one in so many requests fails; a source there is
 * none for the number. */
enum { OFTEN = 100 };

/* How a count is told to people, and what to do about it. */
struct kind {
	const char *title, *told,
	    *advice; /* told, advice NULL: nothing to do about it */
};

static const struct kind kinds[LEDGER_COUNTS] = {
    [LEDGER_COUNT_SCANS] = {NULL, NULL, NULL},
    [LEDGER_COUNT_FAILURES] = {NULL, NULL, NULL},
    [LEDGER_COUNT_LATE] = {"late", NULL, NULL},
    [LEDGER_COUNT_OPENED] = {"connections", NULL, NULL},
    [LEDGER_COUNT_GOOD] = {"answered", NULL, NULL},
    [LEDGER_COUNT_ILLEGAL] = {"refused", "refused as an illegal address",
	"it has no such register, or not in that table: look with 'evensoak "
	"registers', "
	"then correct table and address, or tell the hole that must not be read"},
    [LEDGER_COUNT_BUSY] = {"busy", "answered with 'busy'",
	"it is asked more than it can bear: raise gap_ms or period_ms"},
    [LEDGER_COUNT_FAULT] = {"fault", "answered with a fault of its own",
	"it says itself that it is out of order: look at the device"},
    [LEDGER_COUNT_GATEWAY] = {"gateway", "not passed on by the gateway",
	"the gateway answers, the device behind it does not: check unit_id, the "
	"gateway's serial side and the power of the device"},
    [LEDGER_COUNT_NONE] = {"timed out", "not answered in time",
	"check power and cable, then unit_id and, on a serial line, baud, parity and "
	"stop bits; where it does answer but slowly, raise timeout_ms"},
    [LEDGER_COUNT_WRONG] = {"wrong", "answered wrongly",
	"damaged, or an answer to another request: look for a second master on the "
	"line, two devices with one unit_id, a gateway that mixes its clients, noise "
	"on the cable"},
    [LEDGER_COUNT_LOST] = {"lost", "lost with the connection or the port",
	"check address and port, that the device takes one client more, or that the "
	"serial port is there and the service may open it"},
};

static int64_t
requests(const struct ledger_device *device)
{
	int64_t sum = 0;

	for (int i = LEDGER_COUNT_GOOD; i < LEDGER_COUNTS; i++)
		sum += device->counts[i];
	return sum;
}

/* A number that people should look at. */
static bool
is_often(const struct ledger_device *device, int count)
{
	return kinds[count].advice != NULL && device->counts[count] > 0 &&
	       device->counts[count] >= requests(device) / OFTEN;
}

/* --- the table ---------------------------------------------------------------------- */

/* As they stand in it. */
static const enum ledger_count order[LEDGER_COUNTS] = {LEDGER_COUNT_GOOD,
    LEDGER_COUNT_ILLEGAL, LEDGER_COUNT_BUSY, LEDGER_COUNT_FAULT, LEDGER_COUNT_GATEWAY,
    LEDGER_COUNT_NONE, LEDGER_COUNT_WRONG, LEDGER_COUNT_LOST, LEDGER_COUNT_OPENED,
    LEDGER_COUNT_SCANS, LEDGER_COUNT_FAILURES, LEDGER_COUNT_LATE};

enum {
	FIRST_COUNTS = 8, /* columns before the counts */
	LAST_COUNTS = FIRST_COUNTS + LEDGER_COUNTS,
	COLUMNS = LAST_COUNTS + 2,
};

struct seen {
	struct page *page;
	int64_t sums[LEDGER_COUNTS];
	bool lateness; /* somebody's is known */
	struct wall since;
};

static int
sum_up(void *arg, const struct ledger_device *device)
{
	struct seen *seen = arg;

	for (int i = 0; i < LEDGER_COUNTS; i++)
		seen->sums[i] += device->counts[i];
	if (isfinite(device->late_p99_s))
		seen->lateness = true;
	seen->since = device->since;
	return 0;
}

static int
put_device(void *arg, const struct ledger_device *device)
{
	struct seen *seen = arg;
	struct cell cells[COLUMNS] = {
	    cell_words(device->device),
	    cell_words(device->line),
	    cell_words(device->bus),
	    cell_words(device->state),
	    shown_name(device->why),
	    cell_time(device->since),
	    cell_time(device->at),
	    cell_count(requests(device)),
	};

	for (int i = 0; i < LEDGER_COUNTS; i++) {
		cells[FIRST_COUNTS + i] = cell_count(device->counts[order[i]]);
		if (is_often(device, (int)order[i]))
			cells[FIRST_COUNTS + i].tone = TONE_BAD;
	}
	cells[LAST_COUNTS] =
	    cell_shown(device->late_p99_s, device->late_p99_s * 1e3, 1);
	cells[LAST_COUNTS + 1] =
	    cell_shown(device->late_worst_s, device->late_worst_s * 1e3, 1);
	page_row(seen->page, cells);
	return 0;
}

/* Those of failures are for people only when there are some. */
static void
choose_columns(const struct seen *seen, struct column columns[static COLUMNS])
{
	const struct column first[FIRST_COUNTS] = {
	    {"device", "device", 0},
	    {"line", NULL, 0},
	    {"bus", "bus", 0},
	    {"state", NULL, 0},
	    {"why", NULL, 0},
	    {"since", NULL, 0},
	    {"at", NULL, 0},
	    {"requests", "requests", 0},
	};

	memcpy(columns, first, sizeof first);
	for (int i = 0; i < LEDGER_COUNTS; i++)
		columns[FIRST_COUNTS + i] = (struct column){ledger_count_name(order[i]),
		    seen->sums[order[i]] > 0 ? kinds[order[i]].title : NULL, 0};
	columns[LAST_COUNTS] =
	    (struct column){"late_p99_s", seen->lateness ? "late p99 ms" : NULL, 0};
	columns[LAST_COUNTS + 1] =
	    (struct column){"late_worst_s", seen->lateness ? "worst ms" : NULL, 0};
}

int
status_devices_put(
    struct page *page, struct ledger_read *ledger, bool running, struct error *error)
{
	struct seen seen = {.page = page};
	struct column columns[COLUMNS];
	char heading[CALENDAR_TEXT + 64], since[CALENDAR_TEXT];
	int code = ledger_read_devices(ledger, sum_up, &seen, error);

	if (code != 0)
		return code;
	shown_clock(seen.since, clock_wall(), since);
	snprintf(heading, sizeof heading, "Buses: requests%s since %s",
	    running ? "" : ", as the daemon last wrote,", since);
	choose_columns(&seen, columns);
	page_table(page, "devices", heading, columns, COLUMNS);
	code = ledger_read_devices(ledger, put_device, &seen, error);
	page_table_end(page);
	return code;
}

/* --- what to do --------------------------------------------------------------------- */

struct advice {
	struct page *page;
	bool wanted[LEDGER_COUNTS];
};

/* A device that is wrong is told of already. */
static void
tell_often(struct advice *advice, const struct ledger_device *device, int count)
{
	if (strcmp(device->state, "ok") != 0 || !is_often(device, count))
		return;
	page_note(advice->page, NULL, TONE_PLAIN,
	    "device %s answers, but of %" PRId64 " requests %" PRId64 " %s %s",
	    device->device, requests(device), device->counts[count],
	    device->counts[count] == 1 ? "was" : "were", kinds[count].told);
	advice->wanted[count] = true;
}

static int
look_at(void *arg, const struct ledger_device *device)
{
	struct advice *advice = arg;

	for (int i = 0; i < LEDGER_COUNTS; i++) {
		tell_often(advice, device, i);
		if (strcmp(device->why, ledger_count_name((enum ledger_count)i)) == 0)
			advice->wanted[i] = true;
	}
	return 0;
}

int
status_devices_advise(
    struct page *page, struct ledger_read *ledger, struct error *error)
{
	struct advice advice = {.page = page};
	int code = ledger_read_devices(ledger, look_at, &advice, error);

	for (int i = 0; i < LEDGER_COUNTS && code == 0; i++)
		if (advice.wanted[i] && kinds[i].advice != NULL)
			page_note(page, NULL, TONE_PLAIN, "what is %s: %s",
			    kinds[i].told, kinds[i].advice);
	return code;
}
