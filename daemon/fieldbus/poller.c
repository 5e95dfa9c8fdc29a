/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/poller.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdatomic.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/agenda.h"
#include "daemon/fieldbus/link.h"
#include "daemon/fieldbus/load.h"
#include "daemon/fieldbus/polled.h"
#include "daemon/fieldbus/scanner.h"
#include "daemon/fieldbus/silence.h"

static const int64_t reconnect_ns = CLOCK_SECOND_NS;

/* What ending a connection costs at least, quick as it may be: by the pauses that
 * follow from it (silence.h) there is no storm of connections. */
static const int64_t connection_ns = CLOCK_SECOND_NS / 4;

/* All of it belongs to the thread but what the mutex guards, and the atomics. */
struct poller {
	poller_sink *sink;
	void *arg;
	struct link *link;
	struct mono connect_from; /* not before: none could be made */
	struct error link_why;    /* why that was */
	atomic_bool stop;
	atomic_uint_fast64_t hurried; /* lines whose heat begins, a bit each */
	int wake_fd;                  /* readable once one of the two above is set */
	pthread_t thread;
	bool joined;           /* of poller_wait's thread */
	pthread_mutex_t mutex; /* guards what poller_status tells of polled */
	struct polled_bus *bus;
};

_Static_assert(SETTINGS_LINES <= 64, "a bit for each line");

/* --- asking ------------------------------------------------------------------------ */

static bool
note_unreachable(struct poller *poller, struct polled_device *device)
{
	device->why = poller->link_why;
	pthread_mutex_lock(&poller->mutex);
	device->status.why = ANSWER_LOST;
	pthread_mutex_unlock(&poller->mutex);
	return false;
}

/*
 * Connects if need be and may be; false with the reason as the device's.  Only a
 * connection that could not be made holds the next one up, whatever units do to those
 * that are there.  Reckoned from the schedule's time, so that the next turn is not
 * missed by having been late this time.
 */
static bool
reach(struct poller *poller, const struct polled_group *group, struct mono now)
{
	int64_t fastest_ns = poller->bus->fastest_ns;
	int64_t pause_ns = fastest_ns > reconnect_ns ? fastest_ns : reconnect_ns;
	struct mono due = polled_due(poller->bus, group, now), start = clock_mono();
	int64_t took_ns;

	if (link_is_ready(poller->link))
		return true;
	if (now.ns < poller->connect_from.ns)
		return note_unreachable(poller, group->device);
	if (link_open(poller->link, group->device->settings->timeout_s,
		&poller->link_why) == 0)
		return true;
	took_ns = clock_mono().ns - start.ns;
	if (pause_ns < 2 * took_ns)
		pause_ns = 2 * took_ns;
	poller->connect_from.ns = due.ns + pause_ns;
	return note_unreachable(poller, group->device);
}

/* What the unit's other groups missed meanwhile they get now, not at their own, perhaps
 * slow, time. */
static void
note_alive(struct poller *poller, struct polled_group *group, struct mono now)
{
	struct polled_device *device = group->device;
	int failures = silence_end(poller->bus->silence, device->unit, now);

	if (failures >= SILENCE_FAILURES || device->unasked)
		polled_want_unit(poller->bus, device->unit, group);
	device->unasked = false;
}

/* Of an attempt that took so long. */
static int64_t
cost_ns(const struct poller *poller, enum answer answer, int64_t took_ns)
{
	int64_t least_ns = poller->bus->fastest_ns / 2;

	if (answer != ANSWER_LOST && answer != ANSWER_WRONG)
		return took_ns;
	if (least_ns > connection_ns)
		least_ns = connection_ns;
	return took_ns > least_ns ? took_ns : least_ns;
}

static void
note_answer(struct poller *poller, struct polled_group *group, enum answer answer,
    struct mono began)
{
	struct polled_device *device = group->device;
	struct silence *silence = poller->bus->silence;
	struct mono now = clock_mono();

	if (answer_is_silence(answer))
		silence_fail(silence, device->unit, now,
		    cost_ns(poller, answer, now.ns - began.ns));
	else
		note_alive(poller, group, now);
	pthread_mutex_lock(&poller->mutex);
	device->status.answers[answer]++;
	if (answer != ANSWER_GOOD)
		device->status.why = answer;
	device->status.opened = link_counts(poller->link).opened;
	pthread_mutex_unlock(&poller->mutex);
}

/* One request of the group; true when its scan is there, good or not. */
static bool
ask(struct poller *poller, struct polled_group *group, enum scan_outcome *outcome)
{
	struct polled_device *device = group->device;
	struct mono now = clock_mono();
	enum answer answer;

	if (silence_holds(poller->bus->silence, device->unit, now) ||
	    !reach(poller, group, now)) {
		device->unasked = true;
		scanner_fault(group->scanner);
		*outcome = SCAN_OUTCOME_SILENT;
		return true;
	}
	if (atomic_load(&poller->stop)) /* connecting may have taken long */
		return false;
	answer = scanner_next(group->scanner, poller->link, &device->why);
	if (answer == ANSWER_UNASKED) /* no request, and not the device's silence */
		device->unasked = true;
	else
		note_answer(poller, group, answer, now);
	if (!scanner_is_done(group->scanner))
		return false;
	*outcome = scanner_end(group->scanner);
	return true;
}

/* --- one turn ---------------------------------------------------------------------- */

static void
begin(struct poller *poller, size_t index)
{
	struct polled_group *group = &poller->bus->groups[index];
	struct mono now = clock_mono();
	int64_t late_ns = agenda_begin(poller->bus->agenda, index, now);

	scanner_begin(group->scanner);
	if (late_ns < 0)
		return;
	pthread_mutex_lock(&poller->mutex);
	polled_note_late(group, now, late_ns);
	pthread_mutex_unlock(&poller->mutex);
}

static void
end(struct poller *poller, size_t index, enum scan_outcome outcome)
{
	struct polled_group *group = &poller->bus->groups[index];
	const struct scan *scan = scanner_scan(group->scanner);

	agenda_end(poller->bus->agenda, index);
	pthread_mutex_lock(&poller->mutex);
	outcome = polled_note_outcome(group, outcome);
	pthread_mutex_unlock(&poller->mutex);
	standing_note(
	    &group->device->standing, outcome, scan->at, group->device->why.text);
	poller->sink(poller->arg, scan);
}

static void
take_a_turn(struct poller *poller, size_t index)
{
	enum scan_outcome outcome;

	if (!poller->bus->agenda->tasks[index].begun)
		begin(poller, index);
	if (ask(poller, &poller->bus->groups[index], &outcome))
		end(poller, index, outcome);
}

static void
take_wishes(struct poller *poller)
{
	uint64_t lines = atomic_exchange(&poller->hurried, 0);

	if (lines)
		polled_want_lines(poller->bus, lines);
}

static void
poll_bus(struct poller *poller)
{
	struct polled_bus *bus = poller->bus;
	eventfd_t told;

	polled_start(bus, clock_mono());
	while (!atomic_load(&poller->stop)) {
		size_t next;

		take_wishes(poller);
		next = agenda_next(bus->agenda, clock_mono());
		if (next < bus->group_count)
			take_a_turn(poller, next);
		else if (clock_sleep_until(agenda_due(bus->agenda), poller->wake_fd))
			eventfd_read(poller->wake_fd, &told);
	}
}

/* The link is freed here, since a serial one waits for late answers then: so several
 * pollers do at once. */
static void *
run(void *arg)
{
	struct poller *poller = arg;

	if (poller->bus->group_count > 0)
		poll_bus(poller);
	link_free(poller->link);
	poller->link = NULL;
	return NULL;
}

/* --- life -------------------------------------------------------------------------- */

static void
release(struct poller *poller)
{
	polled_free(poller->bus);
	link_free(poller->link);
	if (poller->wake_fd >= 0)
		close(poller->wake_fd);
	pthread_mutex_destroy(&poller->mutex);
	free(poller);
}

static void
warn(void *arg, enum load_trouble trouble, const char *sentence)
{
	(void)arg;
	if (trouble != LOAD_DEAF)
		log_warnx("%s", sentence);
}

/* All but the thread. */
static int
prepare(struct poller *poller, const struct settings *settings, uint32_t bus,
    struct error *error)
{
	poller->link = link_new(&settings->buses[bus]);
	poller->bus = polled_new(settings, bus);
	if (!poller->link || !poller->bus)
		return error_set(error, ERROR_MEMORY, "poll bus '%s': out of memory",
		    settings->buses[bus].name);
	poller->wake_fd = eventfd(0, EFD_CLOEXEC | EFD_NONBLOCK);
	if (poller->wake_fd < 0)
		return error_set(
		    error, ERROR_IO, "start polling: %s", strerrordesc_np(errno));
	load_judge(settings, poller->bus->plans, bus, warn, NULL);
	return 0;
}

/* Signals are for another thread: libmodbus does not go on after one. */
static int
start_thread(struct poller *poller, struct error *error)
{
	sigset_t all, before;
	int failure;

	sigfillset(&all);
	pthread_sigmask(SIG_SETMASK, &all, &before);
	failure = pthread_create(&poller->thread, NULL, run, poller);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	if (failure)
		return error_set(
		    error, ERROR_IO, "start polling: %s", strerrordesc_np(failure));
	return 0;
}

struct poller *
poller_start(const struct settings *settings, uint32_t bus, poller_sink *sink,
    void *arg, struct error *error)
{
	struct poller *poller = calloc(1, sizeof *poller);

	if (!poller) {
		error_set(error, ERROR_MEMORY, "start polling: out of memory");
		return NULL;
	}
	pthread_mutex_init(&poller->mutex, NULL);
	poller->wake_fd = -1;
	poller->sink = sink;
	poller->arg = arg;
	if (prepare(poller, settings, bus, error) || start_thread(poller, error)) {
		release(poller);
		return NULL;
	}
	return poller;
}

void
poller_end(struct poller *poller)
{
	atomic_store(&poller->stop, true);
	eventfd_write(poller->wake_fd, 1);
}

bool
poller_wait(struct poller *poller, double s)
{
	struct timespec until;

	if (poller->joined)
		return true;
	clock_gettime(CLOCK_REALTIME, &until); /* a step of it costs nothing here */
	until.tv_sec += (time_t)s;
	until.tv_nsec += (long)((s - (double)(time_t)s) * 1e9);
	if (until.tv_nsec >= 1000000000) {
		until.tv_nsec -= 1000000000;
		until.tv_sec++;
	}
	poller->joined = pthread_timedjoin_np(poller->thread, NULL, &until) == 0;
	return poller->joined;
}

void
poller_stop(struct poller *poller)
{
	if (!poller)
		return;
	poller_end(poller);
	if (!poller->joined)
		pthread_join(poller->thread, NULL);
	release(poller);
}

void
poller_hurry(struct poller *poller, uint32_t line)
{
	atomic_fetch_or(&poller->hurried, UINT64_C(1) << line);
	eventfd_write(poller->wake_fd, 1);
}

size_t
poller_status(struct poller *poller, struct device_status *status, size_t room)
{
	size_t count = poller->bus->device_count;

	count = count < room ? count : room;
	pthread_mutex_lock(&poller->mutex);
	for (size_t i = 0; i < count; i++)
		status[i] = polled_status(&poller->bus->devices[i]);
	pthread_mutex_unlock(&poller->mutex);
	return count;
}
