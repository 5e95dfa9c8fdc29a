/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/health.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/poller.h"
#include "daemon/ledger/ledger.h"
#include "daemon/notify/notifier.h"
#include "daemon/publish/publisher.h"
#include "daemon/run/inspection.h"
#include "daemon/run/recent.h"
#include "daemon/run/recorder.h"

enum { ROWS_MAX = SETTINGS_DEVICES + 64 };

struct health_row {
	char subject[SETTINGS_NAME + 16], state[16], text[400];
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
	size_t device_count;
	struct ledger_device devices[SETTINGS_DEVICES];
	/* What those lend, and what was lately, by device of the settings. */
	char bad_texts[SETTINGS_DEVICES][200];
	struct recent recents[SETTINGS_DEVICES];
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

/* The next row, for `kind` and `name` in `state`, the rest to be filled in; notes whether
 * its state moved.  Past the bound the last row is used again. */
static struct health_row *
next_row(struct health *health, const char *kind, const char *name, const char *state)
{
	struct health_row *row = &health->rows[health->count];

	if (health->count < ROWS_MAX - 1)
		health->count++;
	if (health->count > health->written || strcmp(row->state, state) != 0)
		health->changed = true;
	snprintf(row->subject, sizeof(row->subject), "%s%s%s", kind, name[0] ? " " : "",
	    name);
	snprintf(row->state, sizeof(row->state), "%s", state);
	return row;
}

void
health_begin(struct health *health)
{
	health->count = health->device_count = 0;
	health->changed = false;
}

static void
add_lost(struct health_row *row, int64_t lost, const char *what)
{
	size_t length = strlen(row->text);

	if (lost > 0)
		snprintf(row->text + length, sizeof(row->text) - length,
		    "; %" PRId64 " %s were left out", lost, what);
}

void
health_recorder(struct health *health, const struct recorder_status *status)
{
	struct health_row *row = next_row(health, "daemon", "", "ok");

	row->since = health->started;
	row->good = status->filing.filed;
	row->bad = status->filing.lost;
	snprintf(row->text, sizeof(row->text),
	    "version " EVENSOAK_VERSION ", process %ld, %zu readings wait to be looked "
	    "at, %" PRId64 " lost%s",
	    (long)getpid(), status->queued, status->dropped,
	    status->dropped > 0 ? ": this computer was too slow" : "");
	row = next_row(health, "ledger", "", status->filing.writing ? "ok" : "failing");
	row->since = status->filing.since;
	row->good = status->filing.filed;
	row->bad = status->filing.lost;
	snprintf(row->text, sizeof(row->text), "%zu waiting to be written%s%s",
	    status->filing.waiting, status->filing.writing ? "" : ": ",
	    status->filing.writing ? "" : status->filing.text);
	add_lost(row, status->filing.events_lost, "events");
	add_lost(row, status->filing.readings_lost, "intervals of live readings");
}

void
health_refusal(struct health *health, const char *why, struct wall since)
{
	struct health_row *row = next_row(health, "configuration", "", "refused");

	row->since = since;
	row->good = row->bad = 0;
	text_copy(row->text, sizeof(row->text), why);
}

/* One word for 1, 0 and -1: works, does not, not tried yet. */
static const char *
state_of(int works, const char *failing)
{
	if (works < 0)
		return "starting";
	return works > 0 ? "ok" : failing;
}

void
health_inspection(struct health *health, const struct inspection_status *status)
{
	struct health_row *row =
	    next_row(health, "ledger check", "", state_of(status->whole, "damaged"));

	row->since = status->since;
	row->good = status->looks;
	row->bad = status->findings;
	text_copy(row->text, sizeof(row->text), status->text);
}

static const enum ledger_count counted_as[ANSWER_COUNT] = {
    [ANSWER_GOOD] = LEDGER_COUNT_GOOD,
    [ANSWER_ILLEGAL] = LEDGER_COUNT_ILLEGAL,
    [ANSWER_BUSY] = LEDGER_COUNT_BUSY,
    [ANSWER_FAULT] = LEDGER_COUNT_FAULT,
    [ANSWER_GATEWAY] = LEDGER_COUNT_GATEWAY,
    [ANSWER_NONE] = LEDGER_COUNT_NONE,
    [ANSWER_WRONG] = LEDGER_COUNT_WRONG,
    [ANSWER_LOST] = LEDGER_COUNT_LOST,
};

static void
add_row(struct health *health, const char *name, const char *state,
    const struct device_status *status)
{
	struct health_row *row = next_row(health, "device", name, state);

	row->since = status->since;
	row->good = status->scans - status->failures;
	row->bad = status->failures;
	if (status->answering == 0)
		text_copy(row->text, sizeof(row->text), status->text);
	else if (status->bad_channels > 0)
		snprintf(row->text, sizeof(row->text),
		    "%" PRIu32 " channel%s without a value: %s", status->bad_channels,
		    status->bad_channels == 1 ? "" : "s", status->bad_text);
	else
		row->text[0] = '\0';
}

/* A poller tells 0 while no scan was due. */
static double
known_s(double ms)
{
	return ms > 0 ? ms / 1000 : NAN;
}

static void
add_device(struct health *health, const struct settings *settings, const char *state,
    const struct device_status *status, struct wall since)
{
	const struct device_settings *device = &settings->devices[status->device];
	const struct bus_settings *bus = &settings->buses[device->bus];
	struct ledger_device *to = &health->devices[health->device_count];
	char *bad_text;

	if (health->device_count == SETTINGS_DEVICES)
		return;
	bad_text = health->bad_texts[health->device_count++];
	text_copy(bad_text, sizeof(health->bad_texts[0]), status->bad_text);
	*to = (struct ledger_device){.device = device->name,
	    .line = settings->lines[device->line].name,
	    .bus = bus->name,
	    .port = bus->kind == BUS_SERIAL ? bus->path : "",
	    .state = state,
	    .state_since = status->since,
	    .why = "",
	    .since = since,
	    .at = clock_wall(),
	    .period_s = device->groups[0].period_s,
	    .bad_channels = status->bad_channels,
	    .bad_since = status->bad_since,
	    .bad_text = bad_text,
	    .late_p99_s = known_s(status->late_p99_ms),
	    .late_worst_s = known_s(status->late_worst_ms)};
	if (status->answering == 0 && status->why != ANSWER_GOOD)
		to->why = ledger_count_name(counted_as[status->why]);
	to->counts[LEDGER_COUNT_SCANS] = status->scans;
	to->counts[LEDGER_COUNT_FAILURES] = status->failures;
	to->counts[LEDGER_COUNT_LATE] = status->late;
	to->counts[LEDGER_COUNT_OPENED] = status->opened;
	for (int i = 0; i < ANSWER_COUNT; i++)
		to->counts[counted_as[i]] = status->answers[i];
	recent_tell(&health->recents[status->device], to, clock_mono());
}

void
health_devices(struct health *health, const struct settings *settings,
    const struct device_status *devices, size_t count, struct wall since)
{
	for (size_t i = 0; i < count; i++) {
		const struct device_status *one = &devices[i];
		const char *state =
		    state_of(one->answering, one->in_part ? "in_part" : "silent");

		add_row(health, settings->devices[one->device].name, state, one);
		add_device(health, settings, state, one, since);
	}
}

void
health_publisher(
    struct health *health, const char *store, const struct publisher_status *status)
{
	const char *state = state_of(status->delivering, trouble_word(status->trouble));
	struct health_row *row = next_row(health, "store", store, state);
	char sentence[PUBLISHER_SENTENCE];

	row->since = status->since;
	row->good = status->batches;
	row->bad = status->failures;
	publisher_say(status, sentence);
	text_copy(row->text, sizeof(row->text), sentence);
}

void
health_notifier(struct health *health, const struct notifier_status *status)
{
	struct health_row *row =
	    next_row(health, "notify", "", status->works == 0 ? "failing" : "ok");

	row->since = status->since;
	row->good = status->told;
	row->bad = status->failures;
	if (status->works == 0)
		text_copy(row->text, sizeof(row->text), status->text);
	else if (status->waiting > 0)
		snprintf(row->text, sizeof(row->text),
		    "%" PRId64 " event%s will be told", status->waiting,
		    status->waiting == 1 ? "" : "s");
	else
		text_copy(row->text, sizeof(row->text),
		    status->works < 0 ? "there was nothing to tell yet" : "");
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
	for (size_t i = 0; i < health->device_count; i++)
		health->devices[i].at = now;
	if (ledger_put_health(health->ledger, rows, health->count, health->devices,
		health->device_count, &error) == 0)
		health->written = health->count;
	health->ticks = 0;
}

bool
health_end(struct health *health)
{
	if (++health->ticks < HEALTH_TICKS && !health->changed &&
	    health->count == health->written)
		return false;
	write_rows(health);
	return true;
}

void
health_logger(struct health *health, const struct ledger_logger *logger)
{
	struct error error;

	(void)ledger_put_logger(health->ledger, logger, &error);
}

void
health_checkpoint(struct health *health)
{
	struct error error;

	(void)ledger_checkpoint(health->ledger, &error);
}

void
health_close(struct health *health)
{
	if (health == NULL)
		return;
	if (health->count > 0) {
		struct health_row *row;

		health_begin(health);
		row = next_row(health, "daemon", "", "stopped");
		row->since = clock_wall();
		row->good = row->bad = 0;
		snprintf(row->text, sizeof(row->text), "stopped in good order");
		write_rows(health);
	}
	ledger_close(health->ledger);
	free(health);
}
