/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/health.h"

#include <inttypes.h>
#include <stdarg.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/poller.h"
#include "daemon/ledger/ledger.h"
#include "daemon/publish/publisher.h"
#include "daemon/run/recorder.h"

enum { ROWS_MAX = SETTINGS_DEVICES + 64 };

struct health_row {
	char subject[SETTINGS_NAME + 16], state[16], text[300];
	struct wall since;
	int64_t good, bad;
};

struct health {
	struct ledger *ledger;
	struct wall started;
	size_t count, written; /* rows now; rows in the last write */
	int ticks;             /* since the last write */
	bool changed;
	struct health_row rows[ROWS_MAX];
};

struct health *
health_open(const char *path, struct error *error)
{
	struct health *health = calloc(1, sizeof(*health));

	if (health == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	health->ledger = ledger_open(path, NULL, error);
	if (health->ledger == NULL) {
		free(health);
		return NULL;
	}
	health->started = clock_wall();
	return health;
}

/* Adds a row, or changes the one that stood in its place; notes whether its state moved. */
__attribute__((format(printf, 7, 8))) static void
row(struct health *health, const char *kind, const char *name, const char *state,
    struct wall since, const int64_t counts[2], const char *format, ...)
{
	struct health_row *row;
	va_list arguments;

	if (health->count == ROWS_MAX)
		return;
	row = &health->rows[health->count++];
	if (health->count > health->written || strcmp(row->state, state) != 0)
		health->changed = true;
	snprintf(row->subject, sizeof(row->subject), "%s%s%s", kind, name[0] ? " " : "",
	    name);
	snprintf(row->state, sizeof(row->state), "%s", state);
	va_start(arguments, format);
	vsnprintf(row->text, sizeof(row->text), format, arguments);
	va_end(arguments);
	row->since = since;
	row->good = counts[0];
	row->bad = counts[1];
}

void
health_begin(struct health *health)
{
	health->count = 0;
	health->changed = false;
}

void
health_recorder(struct health *health, const struct recorder_status *status)
{
	row(health, "daemon", "", "ok", health->started,
	    (int64_t[2]){status->filed, status->lost},
	    "version " EVENSOAK_VERSION ", process %ld, %zu scans queued, %" PRId64
	    " dropped",
	    (long)getpid(), status->queued, status->dropped);
	row(health, "ledger", "", status->writing ? "ok" : "failing", status->since,
	    (int64_t[2]){status->filed, status->lost}, "%zu waiting to be written%s%s",
	    status->waiting, status->writing ? "" : ": ",
	    status->writing ? "" : status->text);
}

void
health_poller(
    struct health *health, const struct settings *settings, struct poller *poller)
{
	struct device_status devices[SETTINGS_DEVICES];
	size_t count = poller_status(poller, devices, SETTINGS_DEVICES);

	for (size_t i = 0; i < count; i++) {
		const struct device_status *one = &devices[i];
		const char *state = one->answering > 0    ? "ok"
		                    : one->answering == 0 ? "silent"
		                                          : "starting";

		row(health, "device", settings->devices[one->device].name, state,
		    one->since, (int64_t[2]){one->scans, one->failures},
		    "%s%s%" PRId64 " late", one->answering == 0 ? one->text : "",
		    one->answering == 0 ? "; " : "", one->late);
	}
}

void
health_publisher(struct health *health, const char *store, struct publisher *publisher)
{
	struct publisher_status status;
	const char *state;

	publisher_status(publisher, &status);
	state = status.delivering > 0    ? "ok"
	        : status.delivering == 0 ? "failing"
	                                 : "starting";
	row(health, "store", store, state, status.since,
	    (int64_t[2]){status.batches, status.failures},
	    "%s%s%" PRId64 " lines refused", status.delivering == 0 ? status.text : "",
	    status.delivering == 0 ? "; " : "", status.refused);
}

static void
write_rows(struct health *health)
{
	struct ledger_health rows[ROWS_MAX];
	struct error error;
	struct wall now = clock_wall();

	for (size_t i = 0; i < health->count; i++)
		rows[i] = (struct ledger_health){.subject = health->rows[i].subject,
		    .state = health->rows[i].state,
		    .text = health->rows[i].text,
		    .since = health->rows[i].since,
		    .at = now,
		    .good = health->rows[i].good,
		    .bad = health->rows[i].bad};
	if (ledger_put_health(health->ledger, rows, health->count, &error) == 0)
		health->written = health->count;
	health->ticks = 0;
}

void
health_end(struct health *health, bool checkpoint)
{
	struct error error;

	if (++health->ticks >= HEALTH_TICKS || health->changed ||
	    health->count != health->written)
		write_rows(health);
	if (checkpoint)
		(void)ledger_checkpoint(health->ledger, &error);
}

void
health_close(struct health *health)
{
	if (health == NULL)
		return;
	if (health->count > 0) {
		health->count = 0;
		row(health, "daemon", "", "stopped", clock_wall(), (int64_t[2]){0, 0},
		    "stopped in good order");
		write_rows(health);
	}
	ledger_close(health->ledger);
	free(health);
}
