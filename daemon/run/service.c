/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/service.h"

#include <errno.h>
#include <malloc.h>
#include <pthread.h>
#include <signal.h>
#include <stdio.h>
#include <time.h>

#include "conf/settings.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/run/options.h"
#include "daemon/run/plant.h"
#include "daemon/run/replay.h"
#include "daemon/run/service_manager.h"

/* Reads the configuration; every mistake goes to stderr, a line each, the first into
 * `error` too. */
static struct settings *
read_settings(const char *path, struct error *error)
{
	static struct problems problems; /* 51 kB: not on the stack */
	struct settings *settings = settings_load(path, &problems);
	size_t shown =
	    problems.count < SETTINGS_PROBLEMS ? problems.count : SETTINGS_PROBLEMS;

	if (settings != NULL && settings->line_count > 0)
		return settings;
	if (settings != NULL) {
		error_set(error, ERROR_INVALID,
		    "'%s' has no [line]: it is for a PC that reads a store, and there "
		    "is nothing to log",
		    path);
		log_error("%s", error->text);
		settings_free(settings);
		return NULL;
	}
	for (size_t i = 0; i < shown; i++)
		log_error("%s", problems.list[i].text);
	if (problems.count > shown)
		log_error("%zu more mistakes", problems.count - shown);
	error_set(error, ERROR_INVALID, "%s", shown > 0 ? problems.list[0].text : path);
	return NULL;
}

static int
set_clock(
    const struct options *options, const struct settings *settings, struct error *error)
{
	struct wall start = {0};
	int rc = calendar_set_zone(settings->zone, error);

	if (rc != 0)
		return rc;
	if (options->clock_start != NULL) {
		rc = calendar_parse(options->clock_start, &start, error);
		if (rc != 0)
			return rc;
	}
	if (options->clock_rate == 1.0 && options->clock_start == NULL)
		return 0;
	return clock_run_at(
	    options->clock_rate, start, options->clock_origin_ns, error);
}

/* Takes over a changed configuration file; false when the plant could not go on. */
static bool
reload(struct plant *plant, const char *path)
{
	struct settings *settings;
	struct error error;
	int rc;

	service_manager_tell("RELOADING=1");
	settings = read_settings(path, &error);
	if (settings == NULL) {
		log_error("'%s' is refused; the configuration in force stays", path);
		plant_note_refusal(plant, error.text);
	} else if ((rc = plant_reload(plant, settings, &error)) != 0) {
		log_error("%s", error.text);
		if (rc != ERROR_INVALID)
			return false;
		plant_note_refusal(plant, error.text);
	} else {
		plant_note_refusal(plant, "");
		log_info("'%s' is in force", path);
	}
	service_manager_tell("READY=1");
	return true;
}

#define WHY(why) "evensoakd " EVENSOAK_VERSION " stops: " why

/* `why` is told to the ledger. */
static int
serve(
    struct plant *plant, const char *config, const sigset_t *signals, const char **why)
{
	service_manager_tell("READY=1");
	for (;;) {
		int signal =
		    sigtimedwait(signals, NULL, &(struct timespec){.tv_sec = 1});

		if (signal == SIGTERM || signal == SIGINT) {
			log_info("stopping");
			*why = signal == SIGTERM ? WHY("asked to by SIGTERM")
			                         : WHY("asked to by SIGINT");
			return SERVICE_STOPPED;
		}
		*why = WHY("it could not go over to another configuration");
		if (signal == SIGHUP && !reload(plant, config))
			return SERVICE_CANNOT;
		*why = WHY("it could not wait for signals");
		if (signal < 0 && errno != EAGAIN && errno != EINTR)
			return SERVICE_CANNOT;
		if (plant_tick(plant))
			service_manager_tell("WATCHDOG=1");
	}
}

/* A signal ends it as it ends any program: what is in the ledger by then is sound. */
static int
replay(const struct settings *settings, const char *path, const sigset_t *signals)
{
	struct error error;

	pthread_sigmask(SIG_UNBLOCK, signals, NULL);
	if (replay_run(settings, path, &error) == 0)
		return SERVICE_STOPPED;
	log_error("replay of '%s': %s", path, error.text);
	return SERVICE_CANNOT;
}

static int
run(const struct options *options, struct settings *settings, const sigset_t *signals)
{
	const char *why = NULL;
	struct plant *plant;
	struct error error;
	int code;

	log_info("evensoakd " EVENSOAK_VERSION " with '%s', ledger '%s'",
	    options->config, settings->ledger);
	plant = plant_start(settings, options->record, &error);
	if (plant == NULL) {
		log_error("%s", error.text);
		return SERVICE_CANNOT;
	}
	code = serve(plant, options->config, signals, &why);
	service_manager_tell("STOPPING=1");
	plant_stop(plant, why);
	log_info("stopped");
	return code;
}

/* Buffers that grew and were freed go back to the system: a line PC is small.  Signals are
 * blocked in every thread and taken by the main one.  There is no other thread yet. */
static void
set_up_process(bool verbose, sigset_t *signals)
{
	mallopt(M_MMAP_THRESHOLD, 256 * 1024); /* NOLINT(concurrency-mt-unsafe) */
	mallopt(M_ARENA_MAX, 2);               /* NOLINT(concurrency-mt-unsafe) */
	log_set_level(verbose ? LOG_LEVEL_DEBUG : LOG_LEVEL_INFO);
	sigemptyset(signals);
	sigaddset(signals, SIGTERM);
	sigaddset(signals, SIGINT);
	sigaddset(signals, SIGHUP);
	pthread_sigmask(SIG_BLOCK, signals, NULL);
	signal(SIGPIPE, SIG_IGN);
	signal(SIGCHLD, SIG_DFL); /* whoever started us may ignore it */
}

int
service_run(int argc, char **argv)
{
	struct options options;
	struct settings *settings;
	struct error error;
	sigset_t signals;
	int code;

	switch (options_read(argc, argv, &options)) {
	case OPTIONS_GO:
		break;
	case OPTIONS_DONE:
		return SERVICE_STOPPED;
	case OPTIONS_WRONG:
		return SERVICE_USAGE;
	}
	set_up_process(options.verbose, &signals);
	settings = read_settings(options.config, &error);
	if (settings == NULL)
		return SERVICE_CONFIG;
	if (options.check) {
		puts("ok");
		settings_free(settings);
		return SERVICE_STOPPED;
	}
	if (set_clock(&options, settings, &error) != 0) {
		log_error("%s", error.text);
		settings_free(settings);
		return SERVICE_USAGE;
	}
	if (options.replay == NULL)
		return run(&options, settings, &signals);
	code = replay(settings, options.replay, &signals);
	settings_free(settings);
	return code;
}
