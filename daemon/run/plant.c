/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/plant.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"
#include "daemon/ledger/ledger_lock.h"
#include "daemon/notify/notifier.h"
#include "daemon/publish/publisher.h"
#include "daemon/run/buses.h"
#include "daemon/run/recorder.h"
#include "daemon/run/recording.h"
#include "daemon/run/rounds.h"

#define STOP_GRACE_S 3.0 /* for the publishers to send what is there */

enum {
	HANG_TICKS = 60,        /* the recorder silent this long hangs */
	CHECKPOINT_TICKS = 600, /* the WAL is cut this often */
	NOTIFIER_TICKS = 60,    /* a notifier that is lacking is tried this often */
};

struct plant {
	struct settings *settings;
	struct settings **retired; /* of earlier configurations, see release_retired */
	size_t retired_count;
	struct recording *recording; /* NULL: none */
	struct recorder *recorder;
	struct buses *buses;
	struct publisher **publishers;
	size_t publisher_count;
	struct notifier *notifier; /* NULL: none is asked for, or it is lacking */
	bool lacks_notifier;
	struct rounds *rounds;
	int64_t filed; /* shots on file when the publishers were last woken */
	int64_t beat;
	int ticks, silent_ticks;
	char refused[300]; /* why the configuration file is not in force; "" */
	struct wall refused_at;
	char lacking[256];           /* why what needs the ledger does not run; "" */
	char told[LEDGER_LOCK_TOLD]; /* beside the ledger */
};

static void
stop_publishers(struct plant *plant, double grace_s)
{
	while (plant->publisher_count > 0)
		publisher_stop(plant->publishers[--plant->publisher_count], grace_s);
	free(plant->publishers);
	plant->publishers = NULL;
}

static int
start_publishers(struct plant *plant, struct error *error)
{
	const struct settings *settings = plant->settings;

	plant->publishers =
	    calloc(settings->store_count + 1, sizeof(struct publisher *));
	if (plant->publishers == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < settings->store_count; i++) {
		plant->publishers[i] =
		    publisher_start(settings, i, settings->ledger, error);
		if (plant->publishers[i] == NULL)
			return ERROR_IO;
		plant->publisher_count++;
	}
	return 0;
}

/* For a lines_hook: the buses outlive the recorder, though their pollers do not. */
static void
hurry(void *buses, uint32_t line)
{
	buses_hurry(buses, line);
}

static int
start_machine(struct plant *plant, struct error *error)
{
	plant->recorder = recorder_start(plant->settings, plant->recording,
	    (struct lines_hook){hurry, plant->buses}, error);
	if (plant->recorder == NULL)
		return ERROR_IO;
	return buses_start(
	    plant->buses, plant->settings, recorder_put, plant->recorder, error);
}

static void
stop_machine(struct plant *plant)
{
	struct recorder_status last;

	buses_stop(plant->buses);
	if (plant->recorder != NULL) {
		recorder_stop(plant->recorder, &last);
		rounds_carry(plant->rounds, &last);
	}
	plant->recorder = NULL;
	plant->filed = 0;
	plant->beat = 0;
}

/* What needs an open ledger: publishers and health; later when it is not open yet.  What
 * fails is tried again at the next tick: shots are filed meanwhile. */
static int
start_rest(struct plant *plant, struct error *error)
{
	struct recorder_status status;

	recorder_status(plant->recorder, &status);
	if (!status.filing.open || rounds_is_open(plant->rounds))
		return 0;
	if (start_publishers(plant, error) != 0)
		return ERROR_IO;
	if (rounds_open(plant->rounds, plant->recorder, error) == 0)
		return 0;
	stop_publishers(plant, 0);
	return ERROR_IO;
}

/* Where it cannot be had all else goes on, and it is tried again. */
static void
start_notifier(struct plant *plant)
{
	struct error error;
	bool lacked = plant->lacks_notifier;

	plant->notifier = notifier_start(plant->settings, NULL, &error);
	plant->lacks_notifier = plant->notifier == NULL;
	if (plant->lacks_notifier && !lacked)
		log_error(
		    "%s; it is tried again, and nobody is told meanwhile", error.text);
	else if (lacked && !plant->lacks_notifier)
		log_info("the program of [notify] can be run now");
}

/* As the settings have it now. */
static void
take_notifier(struct plant *plant)
{
	const struct settings *settings = plant->settings;

	if (settings->notify.program[0] == '\0') {
		notifier_stop(plant->notifier);
		plant->notifier = NULL;
		plant->lacks_notifier = false;
	} else if (plant->notifier != NULL) {
		notifier_adopt(plant->notifier, settings);
	} else {
		start_notifier(plant);
	}
}

static int
start_recording(struct plant *plant, const char *path, struct error *error)
{
	if (path == NULL)
		return 0;
	plant->recording = recording_open(path, error);
	return plant->recording != NULL ? 0 : ERROR_IO;
}

/* A ledger that cannot be read everywhere takes shots for all that. */
static void
try_rest(struct plant *plant)
{
	struct error error = {0};
	bool failed = start_rest(plant, &error) != 0;

	if (failed && plant->lacking[0] == '\0')
		log_error(
		    "%s; it is tried again, and shots are filed meanwhile", error.text);
	text_copy(plant->lacking, sizeof(plant->lacking), failed ? error.text : "");
}

/* Beside the ledger, since it cannot be written into it. */
static void
tell_trouble(struct plant *plant, const struct filing_status *filing)
{
	char text[LEDGER_LOCK_TOLD] = "";

	if (!filing->writing)
		snprintf(text, sizeof(text),
		    "%s; %zu shots wait in memory, %" PRId64 " are lost", filing->text,
		    filing->waiting, filing->lost);
	else if (plant->lacking[0] != '\0')
		snprintf(text, sizeof(text),
		    "%s; shots are filed, but nothing is delivered", plant->lacking);
	if (strcmp(text, plant->told) == 0)
		return;
	ledger_lock_tell(text);
	text_copy(plant->told, sizeof(plant->told), text);
}

struct plant *
plant_start(struct settings *settings, const char *record, struct error *error)
{
	struct plant *plant = calloc(1, sizeof(*plant));

	if (plant != NULL) {
		plant->buses = buses_new();
		plant->rounds = rounds_new(settings->ledger);
	}
	if (plant == NULL || plant->buses == NULL || plant->rounds == NULL) {
		if (plant != NULL) {
			buses_free(plant->buses);
			rounds_free(plant->rounds);
		}
		free(plant);
		settings_free(settings);
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	plant->settings = settings;
	if (ledger_lock(settings->ledger, error) != 0 ||
	    start_recording(plant, record, error) != 0 ||
	    start_machine(plant, error) != 0) {
		plant_stop(plant, NULL);
		return NULL;
	}
	try_rest(plant);
	take_notifier(plant);
	return plant;
}

/*
 * Frees what nobody reads any more, once the recorder has gone over to the newest: all but
 * the first, whose name of the ledger is lent to many, and those that the pollers, and with
 * them the trackers, were started with.
 */
static void
release_retired(struct plant *plant)
{
	size_t kept = 0;

	if (recorder_settings(plant->recorder) != plant->settings)
		return;
	for (size_t i = 0; i < plant->retired_count; i++) {
		struct settings *one = plant->retired[i];

		if (i == 0 || one == buses_polled(plant->buses))
			plant->retired[kept++] = one;
		else
			settings_free(one);
	}
	plant->retired_count = kept;
}

static int
retire(struct plant *plant, struct settings *next, struct error *error)
{
	struct settings **retired = realloc(
	    plant->retired, (plant->retired_count + 1) * sizeof(struct settings *));

	if (retired == NULL) {
		settings_free(next);
		return error_set(error, ERROR_MEMORY, "out of memory");
	}
	retired[plant->retired_count++] = plant->settings;
	plant->retired = retired;
	plant->settings = next;
	return 0;
}

int
plant_reload(struct plant *plant, struct settings *settings, struct error *error)
{
	bool same = settings_same_machine(plant->settings, settings);

	if (strcmp(plant->settings->ledger, settings->ledger) != 0) {
		error_set(error, ERROR_INVALID,
		    "another ledger ('%s') needs a restart: nothing is changed",
		    settings->ledger);
		settings_free(settings);
		return ERROR_INVALID;
	}
	release_retired(plant);
	if (retire(plant, settings, error) != 0)
		return ERROR_MEMORY;
	take_notifier(plant);
	stop_publishers(plant, STOP_GRACE_S);
	if (same) {
		recorder_adopt(plant->recorder, settings);
	} else {
		stop_machine(plant);
		if (start_machine(plant, error) != 0)
			return ERROR_IO;
	}
	return rounds_is_open(plant->rounds) ? start_publishers(plant, error) : 0;
}

void
plant_note_refusal(struct plant *plant, const char *why)
{
	char text[256];

	text_copy(plant->refused, sizeof(plant->refused), why);
	plant->refused_at = clock_wall();
	if (why[0] == '\0')
		snprintf(
		    text, sizeof(text), "'%.200s' is in force", plant->settings->path);
	else
		text_copy(text, sizeof(text), why);
	recorder_event(plant->recorder, plant->refused_at,
	    why[0] == '\0' ? "configuration_taken_over" : "configuration_refused",
	    text);
}

/* False when the recorder has shown no sign of life for HANG_TICKS. */
static bool
alive(struct plant *plant, const struct recorder_status *status)
{
	plant->silent_ticks = status->beat == plant->beat ? plant->silent_ticks + 1 : 0;
	plant->beat = status->beat;
	return plant->silent_ticks < HANG_TICKS;
}

static void
go_round(struct plant *plant, const struct recorder_status *status)
{
	const struct rounds_parts parts = {.settings = plant->settings,
	    .recorder = plant->recorder,
	    .buses = plant->buses,
	    .publishers = plant->publishers,
	    .publisher_count = plant->publisher_count,
	    .notifier = plant->notifier,
	    .refused = plant->refused,
	    .refused_at = plant->refused_at};

	rounds_go(plant->rounds, &parts, status, plant->ticks % CHECKPOINT_TICKS == 0);
}

bool
plant_tick(struct plant *plant)
{
	struct recorder_status status;

	recorder_status(plant->recorder, &status);
	try_rest(plant);
	tell_trouble(plant, &status.filing);
	if (plant->lacks_notifier && plant->ticks % NOTIFIER_TICKS == 0)
		start_notifier(plant);
	if (status.filing.open && plant->notifier != NULL)
		notifier_open(plant->notifier);
	if (status.filing.filed != plant->filed)
		for (size_t i = 0; i < plant->publisher_count; i++)
			publisher_wake(plant->publishers[i]);
	plant->filed = status.filing.filed;
	plant->ticks++;
	go_round(plant, &status);
	return alive(plant, &status);
}

void
plant_stop(struct plant *plant, const char *why)
{
	if (plant == NULL)
		return;
	if (plant->recorder != NULL && why != NULL)
		recorder_event(plant->recorder, clock_wall(), "logger_stopped", why);
	stop_machine(plant);
	buses_free(plant->buses);
	recording_close(plant->recording);
	stop_publishers(plant, STOP_GRACE_S);
	notifier_stop(plant->notifier);
	rounds_free(plant->rounds);
	for (size_t i = 0; i < plant->retired_count; i++)
		settings_free(plant->retired[i]);
	free(plant->retired);
	settings_free(plant->settings);
	free(plant);
}
