/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/rounds.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/poller.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/notify/notifier.h"
#include "daemon/publish/publisher.h"
#include "daemon/run/buses.h"
#include "daemon/run/health.h"
#include "daemon/run/incidents.h"
#include "daemon/run/inspection.h"
#include "daemon/run/logger.h"
#include "daemon/run/recorder.h"

struct rounds {
	const char *ledger;
	struct health *health;         /* NULL: the ledger is not open yet */
	struct inspection *inspection; /* of the ledger; NULL likewise */
	struct logger logger;
	struct incidents *incidents;
	struct recorder *recorder;                      /* of this round */
	struct notifier *notifier;                      /* the same */
	bool writing;                                   /* the recorder, the same */
	struct device_status devices[SETTINGS_DEVICES]; /* of one bus */
};

/* --- events ------------------------------------------------------------------------- */

/* Whoever notices the others logs them at once. */
static bool
logged_elsewhere(const char *kind)
{
	return strncmp(kind, "device_", 7) == 0 || strncmp(kind, "store_", 6) == 0 ||
	       strncmp(kind, "ledger_", 7) == 0;
}

/* What may not get into the ledger, or not out of it: it may be that very thing that it
 * tells. */
static bool
is_told_directly(const struct rounds *rounds, const char *kind)
{
	return rounds->notifier != NULL &&
	       (!rounds->writing || strncmp(kind, "ledger_", 7) == 0);
}

static void
tell_directly(
    struct notifier *notifier, struct wall at, const char *kind, const char *text)
{
	struct ledger_event event = {.at = at};

	text_copy(event.kind, sizeof(event.kind), kind);
	text_copy(event.text, sizeof(event.text), text);
	notifier_tell(notifier, &event);
}

static void
take_event(void *arg, struct wall at, const char *kind, const char *text)
{
	struct rounds *rounds = arg;

	if (!logged_elsewhere(kind))
		log_warnx("%s", text);
	if (is_told_directly(rounds, kind))
		tell_directly(rounds->notifier, at, kind, text);
	recorder_event(rounds->recorder, at, kind, text);
}

/* How the daemon was when it was last seen by the ledger. */
struct last_seen {
	bool known, stopped;
	struct wall at;
};

static int
take_health(void *arg, const struct ledger_health *health)
{
	struct last_seen *last = arg;

	if (strcmp(health->subject, "daemon") != 0)
		return 0;
	*last =
	    (struct last_seen){true, strcmp(health->state, "stopped") == 0, health->at};
	return 1;
}

static struct last_seen
look_back(const char *path)
{
	struct last_seen last = {0};
	struct error error;
	struct ledger_read *ledger = ledger_read_open(path, &error);

	if (ledger == NULL)
		return last;
	if (ledger_read_health(ledger, take_health, &last, &error) != 0)
		last.known = false;
	ledger_read_close(ledger);
	return last;
}

static void
tell_start(const struct rounds *rounds, const struct last_seen *last,
    struct recorder *recorder)
{
	const struct ledger_logger *row = &rounds->logger.row;
	char seen[CALENDAR_TEXT], text[256];

	calendar_local_text(last->at, seen);
	snprintf(text, sizeof(text),
	    "evensoakd " EVENSOAK_VERSION " begins on '%s'; %s%s", row->host,
	    !last->known    ? "the ledger knows of none before"
	    : last->stopped ? "the one before stopped in good order at "
			    : "the one before ended without a word, seen last at ",
	    last->known ? seen : "");
	recorder_event(recorder, row->started, "logger_started", text);
}

/* --- as a whole --------------------------------------------------------------------- */

struct rounds *
rounds_new(const char *ledger)
{
	struct rounds *rounds = calloc(1, sizeof(*rounds));

	if (rounds == NULL)
		return NULL;
	rounds->ledger = ledger;
	logger_init(&rounds->logger, ledger);
	rounds->incidents = incidents_new((struct incidents_sink){take_event, rounds});
	if (rounds->incidents != NULL)
		return rounds;
	free(rounds);
	return NULL;
}

void
rounds_free(struct rounds *rounds)
{
	if (rounds == NULL)
		return;
	inspection_stop(rounds->inspection);
	health_close(rounds->health);
	incidents_free(rounds->incidents);
	free(rounds);
}

int
rounds_open(struct rounds *rounds, struct recorder *recorder, struct error *error)
{
	struct last_seen last = look_back(rounds->ledger);

	rounds->health = health_open(rounds->ledger, error);
	if (rounds->health == NULL)
		return ERROR_IO;
	rounds->inspection = inspection_start(rounds->ledger, error);
	if (rounds->inspection == NULL) /* and all else goes on */
		log_warnx("%s", error->text);
	tell_start(rounds, &last, recorder);
	return 0;
}

bool
rounds_is_open(const struct rounds *rounds)
{
	return rounds->health != NULL;
}

void
rounds_carry(struct rounds *rounds, const struct recorder_status *last)
{
	logger_carry(&rounds->logger, last);
}

/* --- a round ------------------------------------------------------------------------ */

/* A thread that is held up between the two clocks would see one of them step. */
static struct instant
look_at_clocks(void)
{
	const int64_t most_ns = CLOCK_SECOND_NS / 10;
	struct instant now;
	struct mono before;

	for (int i = 0; i < 5; i++) {
		before = clock_mono();
		clock_both(&now.mono, &now.wall);
		if (clock_mono().ns - before.ns < most_ns)
			break;
	}
	return now;
}

static void
look_at_ledger(struct rounds *rounds)
{
	struct inspection_status status;

	if (rounds->inspection == NULL)
		return;
	inspection_status(rounds->inspection, &status);
	incidents_state(
	    rounds->incidents, INCIDENTS_FILE, "", status.whole, status.text);
	health_inspection(rounds->health, &status);
}

static void
look_at_recorder(struct rounds *rounds, const struct rounds_parts *parts,
    const struct recorder_status *status)
{
	const struct ledger_logger *row = &rounds->logger.row;

	logger_put_recorder(&rounds->logger, status);
	incidents_state(rounds->incidents, INCIDENTS_LEDGER, "", status->filing.writing,
	    status->filing.text);
	incidents_lost(rounds->incidents, INCIDENTS_READINGS, row->dropped);
	incidents_lost(rounds->incidents, INCIDENTS_SHOTS, row->lost);
	if (rounds->health == NULL)
		return;
	health_recorder(rounds->health, status);
	look_at_ledger(rounds);
	if (parts->refused[0] != '\0')
		health_refusal(rounds->health, parts->refused, parts->refused_at);
}

static void
look_at_bus(struct rounds *rounds, const struct rounds_parts *parts, size_t bus)
{
	const struct settings *settings = parts->settings;
	size_t count = poller_status(
	    buses_get(parts->buses, bus), rounds->devices, SETTINGS_DEVICES);

	for (size_t i = 0; i < count; i++) {
		const struct device_status *device = &rounds->devices[i];
		int answers = device->in_part ? 1 : device->answering;

		logger_add_device(&rounds->logger, device);
		incidents_state(rounds->incidents, INCIDENTS_DEVICE,
		    settings->devices[device->device].name, answers, device->text);
	}
	if (rounds->health != NULL)
		health_devices(rounds->health, settings, rounds->devices, count,
		    buses_since(parts->buses));
}

static void
look_at_store(struct rounds *rounds, const struct rounds_parts *parts, size_t store)
{
	const char *name = parts->settings->stores[store].name;
	struct publisher_status status;

	publisher_status(parts->publishers[store], &status);
	incidents_state(
	    rounds->incidents, INCIDENTS_STORE, name, status.delivering, status.text);
	if (rounds->health != NULL)
		health_publisher(rounds->health, name, &status);
}

static void
look_at_notifier(struct rounds *rounds, const struct rounds_parts *parts)
{
	struct notifier_status status;

	if (parts->notifier == NULL || rounds->health == NULL)
		return;
	notifier_status(parts->notifier, &status);
	health_notifier(rounds->health, &status);
}

/* Writes what was seen, when it is time. */
static void
write_down(struct rounds *rounds, bool checkpoint)
{
	struct logger *logger = &rounds->logger;

	if (health_end(rounds->health)) {
		logger_look(logger);
		logger->row.clock_steps = incidents_clock_steps(rounds->incidents);
		health_logger(rounds->health, &logger->row);
		if (logger->disk_bytes > 0)
			incidents_disk(rounds->incidents, logger->row.free_bytes,
			    logger->disk_bytes);
	}
	if (checkpoint)
		health_checkpoint(rounds->health);
}

void
rounds_go(struct rounds *rounds, const struct rounds_parts *parts,
    const struct recorder_status *status, bool checkpoint)
{
	rounds->recorder = parts->recorder;
	rounds->notifier = parts->notifier;
	rounds->writing = status->filing.writing != 0;
	incidents_begin(rounds->incidents, look_at_clocks());
	if (rounds->health != NULL)
		health_begin(rounds->health);
	logger_begin(&rounds->logger);
	look_at_recorder(rounds, parts, status);
	for (size_t i = 0; i < buses_count(parts->buses); i++)
		look_at_bus(rounds, parts, i);
	for (size_t i = 0; i < parts->publisher_count; i++)
		look_at_store(rounds, parts, i);
	look_at_notifier(rounds, parts);
	if (rounds->health != NULL)
		write_down(rounds, checkpoint);
	incidents_end(rounds->incidents);
}
