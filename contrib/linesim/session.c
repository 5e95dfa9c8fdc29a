/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/session.h"

#include <errno.h>
#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "contrib/linesim/options.h"
#include "contrib/linesim/plant.h"
#include "contrib/linesim/server.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define STEP_NS (CLOCK_SECOND_NS / 10)
#define WAIT_LEAST_NS INT64_C(1000000) /* of the system's time */

enum { BATCH_STEPS = 100, MISTAKES_ROOM = 65536 };

struct session {
	const struct options *options;
	struct wall start;
	struct script script;
	FILE *truth;
	struct plant *plant;
	struct server *server;
	sigset_t waiting; /* the signals that are let through while waiting */
	int64_t steps_max;
};

static volatile sig_atomic_t stopped;

static void
stop(int signal_number)
{
	(void)signal_number;
	stopped = 1;
}

/* The signals come in server_wait only, so that none is missed. */
static void
catch_signals(struct session *session)
{
	struct sigaction action = {.sa_handler = stop};
	sigset_t ours;

	sigemptyset(&ours);
	sigaddset(&ours, SIGTERM);
	sigaddset(&ours, SIGINT);
	pthread_sigmask(SIG_BLOCK, &ours, &session->waiting);
	sigdelset(&session->waiting, SIGTERM);
	sigdelset(&session->waiting, SIGINT);
	sigaction(SIGTERM, &action, NULL);
	sigaction(SIGINT, &action, NULL);
}

static int
read_script(struct session *session, struct error *error)
{
	const char *path = session->options->script;
	struct text mistakes;
	FILE *file;

	if (path == NULL)
		return 0;
	file = fopen(path, "r");
	if (file == NULL)
		return error_set(error, ERROR_IO, "cannot open the script '%s': %s",
		    path, strerrordesc_np(errno));
	text_init(&mistakes, MISTAKES_ROOM);
	bool good = script_read(&session->script, path, file, &mistakes);
	fclose(file);
	if (!good)
		fputs(mistakes.bytes, stderr);
	text_release(&mistakes);
	return good ? 0
	            : error_set(
			  error, ERROR_INVALID, "the script '%s' has mistakes", path);
}

static int
open_truth(struct session *session, struct error *error)
{
	const char *path = session->options->truth;

	if (path == NULL)
		return 0;
	session->truth = fopen(path, "w");
	if (session->truth == NULL)
		return error_set(error, ERROR_IO, "cannot write the truth '%s': %s",
		    path, strerrordesc_np(errno));
	return 0;
}

static int
build_plant(struct session *session, struct error *error)
{
	const struct options *options = session->options;
	bool there[DEVICE_COUNT];

	session->start =
	    options->clock_start.ns == 0 ? clock_wall() : options->clock_start;
	session->plant = plant_new(&(struct plant_setup){.kind = options->machine,
	    .seed = options->seed,
	    .start = session->start,
	    .cold_start = options->cold_start,
	    .truth = session->truth,
	    .script = &session->script});
	if (session->plant == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory for the plant");
	for (int device = 0; device < DEVICE_COUNT; device++)
		there[device] = registers_have((enum device)device,
		    options->machine->ovens, options->machine->sides);
	session->server = server_open(options->port, there, error);
	if (session->server == NULL)
		return ERROR_IO;
	server_tell_asked(session->server, options->asked);
	return 0;
}

static void
write_ready_lines(const struct session *session, FILE *file)
{
	char start[CALENDAR_TEXT];

	calendar_utc_text(session->start, 9, start);
	for (int device = 0; device < DEVICE_COUNT; device++) {
		uint16_t port = server_port(session->server, (enum device)device);
		if (port > 0)
			fprintf(file, "%s %u\n", device_names[device], (unsigned)port);
	}
	fprintf(file, "clock-origin-ns %lld\nclock-start %s\n",
	    (long long)clock_origin_ns(), start);
}

/* Whoever sees the file sees all of it. */
static int
tell_ready(const struct session *session, struct error *error)
{
	const char *path = session->options->ready;
	char unfinished[4096];
	FILE *file;

	if (path == NULL)
		return 0;
	snprintf(unfinished, sizeof unfinished, "%s.new", path);
	file = fopen(unfinished, "w");
	if (file != NULL) {
		write_ready_lines(session, file);
		if (fclose(file) == 0 && rename(unfinished, path) == 0)
			return 0;
	}
	return error_set(
	    error, ERROR_IO, "cannot write '%s': %s", path, strerrordesc_np(errno));
}

static bool
at_end(const struct session *session)
{
	const struct plant *plant = session->plant;
	int64_t sheets = session->options->sheets;

	return plant->machine.now >= session->steps_max ||
	       (sheets > 0 && plant->frames_left >= sheets);
}

/* Some steps towards the clock's time; true when it is reached. */
static bool
catch_up(struct session *session)
{
	int64_t target = (clock_wall().ns - session->start.ns) / STEP_NS;

	for (int i = 0; i < BATCH_STEPS && !at_end(session); i++) {
		if (session->plant->machine.now >= target)
			return true;
		plant_step(session->plant);
	}
	return false;
}

static int64_t
until_next_step_ns(const struct session *session)
{
	int64_t next_ns =
	    session->start.ns + (session->plant->machine.now + 1) * STEP_NS;
	int64_t wait_ns = clock_system_ns(next_ns - clock_wall().ns);

	return wait_ns < WAIT_LEAST_NS ? WAIT_LEAST_NS : wait_ns;
}

static void
work(struct session *session)
{
	while (!stopped && !at_end(session)) {
		bool there = catch_up(session);
		server_serve(session->server, &session->plant->registers,
		    session->plant->machine.now);
		server_wait(session->server, there ? until_next_step_ns(session) : 0,
		    &session->waiting);
	}
}

/* The masters may still read how it ended. */
static void
linger(struct session *session)
{
	double clock_s = session->options->serve_for_s * clock_rate();
	int64_t end_ns = clock_mono().ns + (int64_t)(clock_s * (double)CLOCK_SECOND_NS);

	while (!stopped) {
		server_serve(session->server, &session->plant->registers,
		    session->plant->machine.now);
		int64_t left_ns = clock_system_ns(end_ns - clock_mono().ns);
		if (left_ns <= 0)
			return;
		server_wait(session->server, left_ns, &session->waiting);
	}
}

static void
sum_up(const struct session *session)
{
	const struct protocol_counts *counts = server_counts(session->server);

	printf("frames round: %lld, line time: %.1f s\n",
	    (long long)session->plant->frames_left,
	    (double)session->plant->machine.now * TRUTH_STEP_S);
	printf("writes refused: %llu, functions seen:",
	    (unsigned long long)counts->refused);
	for (int function = 0; function < 256; function++)
		if (counts->functions[function] > 0)
			printf(" %d", function);
	printf("\n");
}

static int
close_truth(struct session *session, struct error *error)
{
	FILE *file = session->truth;

	session->truth = NULL;
	if (file == NULL)
		return 0;
	bool failed = ferror(file) != 0;
	if (fclose(file) != 0 || failed)
		return error_set(error, ERROR_IO,
		    "the truth '%s' could not be written whole",
		    session->options->truth);
	return 0;
}

static int
run(struct session *session, struct error *error)
{
	const struct options *options = session->options;
	int code = clock_run_at(options->clock_rate, session->start, 0, error);

	if (code == 0)
		code = tell_ready(session, error);
	if (code != 0)
		return code;
	work(session);
	linger(session);
	sum_up(session);
	return close_truth(session, error);
}

int
session_run(const struct options *options, struct error *error)
{
	struct session *session = calloc(1, sizeof *session);
	int code;

	if (session == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	session->options = options;
	session->steps_max = options->duration_s > 0
	                         ? llround(options->duration_s / TRUTH_STEP_S)
	                         : INT64_MAX;
	stopped = 0;
	catch_signals(session);
	if ((code = read_script(session, error)) == 0 &&
	    (code = open_truth(session, error)) == 0 &&
	    (code = build_plant(session, error)) == 0)
		code = run(session, error);
	server_close(session->server);
	plant_free(session->plant);
	if (session->truth != NULL)
		fclose(session->truth);
	free(session);
	return code;
}
