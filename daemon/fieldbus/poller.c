/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/poller.h"

#include <errno.h>
#include <pthread.h>
#include <signal.h>
#include <stdlib.h>
#include <string.h>
#include <sys/eventfd.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/base/text.h"
#include "daemon/fieldbus/link.h"
#include "daemon/fieldbus/scanner.h"
#include "daemon/fieldbus/standing.h"

/* While something fails it is left alone for longer and longer. */
struct backoff {
	int failures; /* in a row */
	struct mono until;
};

static const int64_t backoff_max_ns = 30 * CLOCK_SECOND_NS;

struct polled { /* one device of the bus */
	const struct device_settings *device;
	struct scanner *scanner;
	struct standing standing;
	struct backoff backoff;
	struct error why; /* of the last failure */
	struct mono due;
	int64_t period_ns;
	struct device_status status; /* under the poller's mutex */
};

/* All of it belongs to the thread but what the mutex guards, and `stop`. */
struct poller {
	poller_sink *sink;
	void *arg;
	struct link *link;
	struct backoff link_backoff; /* of connecting: for all devices alike */
	struct error link_why;
	atomic_bool stop;
	int stop_fd; /* readable once `stop` is set */
	pthread_t thread;
	pthread_mutex_t mutex; /* guards polled[].status */
	size_t count;
	struct polled polled[];
};

/* No pause after the first failure, then one period, two, four ... */
static void
backoff_grow(struct backoff *backoff, struct mono now, int64_t period_ns)
{
	int64_t pause_ns = backoff->failures ? period_ns : 0;

	for (int i = 1; i < backoff->failures && pause_ns < backoff_max_ns; i++)
		pause_ns *= 2;
	if (pause_ns > backoff_max_ns)
		pause_ns = backoff_max_ns;
	backoff->failures++;
	backoff->until.ns = now.ns + pause_ns;
}

static bool
backoff_is_on(const struct backoff *backoff, struct mono now)
{
	return backoff->failures && now.ns < backoff->until.ns;
}

/* Connects if need be and may be; false with the reason in `polled->why`. */
static bool
reach(struct poller *poller, struct polled *polled, struct mono now)
{
	if (link_is_ready(poller->link))
		return true;
	if (!backoff_is_on(&poller->link_backoff, now)) {
		if (link_open(poller->link, polled->device->timeout_s,
			&poller->link_why) == 0) {
			poller->link_backoff.failures = 0;
			return true;
		}
		backoff_grow(&poller->link_backoff, clock_mono(), polled->period_ns);
	}
	polled->why = poller->link_why;
	return false;
}

/* One scan, good or not, without a word to anybody. */
static enum scan_outcome
scan_device(struct poller *poller, struct polled *polled, struct mono now)
{
	enum scan_outcome outcome;

	if (backoff_is_on(&polled->backoff, now) || !reach(poller, polled, now)) {
		scanner_fault(polled->scanner);
		return SCAN_OUTCOME_SILENT;
	}
	outcome =
	    scanner_read(polled->scanner, poller->link, &poller->stop, &polled->why);
	if (outcome == SCAN_OUTCOME_SILENT)
		backoff_grow(&polled->backoff, clock_mono(), polled->period_ns);
	else
		polled->backoff.failures = 0;
	return outcome;
}

static void
update_status(struct poller *poller, struct polled *polled, enum scan_outcome outcome)
{
	const struct scan *scan = scanner_scan(polled->scanner);
	struct device_status *status = &polled->status;
	int answering = outcome == SCAN_OUTCOME_FULL;
	bool in_part = outcome == SCAN_OUTCOME_PART;

	pthread_mutex_lock(&poller->mutex);
	status->scans++;
	if (!answering) {
		status->failures++;
		text_copy(status->text, sizeof status->text, polled->why.text);
	}
	if (status->answering != answering || status->in_part != in_part)
		status->since = scan->wall;
	status->answering = answering;
	status->in_part = in_part;
	pthread_mutex_unlock(&poller->mutex);
}

/* The schedule is absolute: a scan that comes too late leaves out whole periods
 * rather than catching up in a burst. */
static void
keep_schedule(struct poller *poller, struct polled *polled, struct mono now)
{
	int64_t behind_ns = now.ns - polled->due.ns;

	if (behind_ns < polled->period_ns)
		return;
	polled->due.ns += behind_ns / polled->period_ns * polled->period_ns;
	pthread_mutex_lock(&poller->mutex);
	polled->status.late++;
	pthread_mutex_unlock(&poller->mutex);
}

static void
poll_device(struct poller *poller, struct polled *polled)
{
	const struct scan *scan = scanner_scan(polled->scanner);
	struct mono now = clock_mono();
	enum scan_outcome outcome;

	keep_schedule(poller, polled, now);
	outcome = scan_device(poller, polled, now);
	polled->due.ns += polled->period_ns;
	if (atomic_load(&poller->stop))
		return; /* it may have been cut short */
	standing_note(&polled->standing, outcome, scan->at, polled->why.text);
	update_status(poller, polled, outcome);
	poller->sink(poller->arg, scan);
}

static struct polled *
next_due(struct poller *poller)
{
	struct polled *next = &poller->polled[0];

	for (size_t i = 1; i < poller->count; i++)
		if (poller->polled[i].due.ns < next->due.ns)
			next = &poller->polled[i];
	return next;
}

static void *
run(void *arg)
{
	struct poller *poller = arg;
	struct mono start = clock_mono();

	if (poller->count == 0)
		return NULL;
	for (size_t i = 0; i < poller->count; i++)
		poller->polled[i].due = start;
	while (!atomic_load(&poller->stop)) {
		struct polled *next = next_due(poller);

		if (clock_mono().ns >= next->due.ns ||
		    clock_sleep_until(next->due, poller->stop_fd) == 0)
			poll_device(poller, next);
	}
	return NULL;
}

/* A device without channels has nothing to ask for. */
static bool
is_polled(const struct device_settings *device, uint32_t bus)
{
	return device->bus == bus && device->channel_count > 0;
}

static int
add_device(struct poller *poller, const struct settings *settings, uint32_t index)
{
	struct polled *polled = &poller->polled[poller->count];

	polled->device = &settings->devices[index];
	polled->period_ns =
	    (int64_t)(polled->device->period_s * (double)CLOCK_SECOND_NS);
	polled->status = (struct device_status){.device = index, .answering = -1};
	standing_init(&polled->standing, polled->device->name);
	polled->scanner = scanner_new(settings, index);
	if (!polled->scanner)
		return ERROR_MEMORY;
	poller->count++;
	return 0;
}

static void
release(struct poller *poller)
{
	for (size_t i = 0; i < poller->count; i++)
		scanner_free(poller->polled[i].scanner);
	link_free(poller->link);
	if (poller->stop_fd >= 0)
		close(poller->stop_fd);
	pthread_mutex_destroy(&poller->mutex);
	free(poller);
}

static struct poller *
allocate(const struct settings *settings, uint32_t bus)
{
	size_t count = 0;
	struct poller *poller;

	for (size_t i = 0; i < settings->device_count; i++)
		count += is_polled(&settings->devices[i], bus);
	poller = calloc(1, sizeof *poller + count * sizeof poller->polled[0]);
	if (!poller)
		return NULL;
	poller->stop_fd = -1;
	pthread_mutex_init(&poller->mutex, NULL);
	return poller;
}

/* All but the thread. */
static int
prepare(struct poller *poller, const struct settings *settings, uint32_t bus,
    struct error *error)
{
	for (uint32_t i = 0; i < settings->device_count; i++) {
		const struct device_settings *device = &settings->devices[i];

		if (!is_polled(device, bus))
			continue;
		if (!poller->link)
			poller->link = link_new(&settings->buses[bus]);
		if (!poller->link || add_device(poller, settings, i))
			return error_set(error, ERROR_MEMORY,
			    "poll device '%s': out of memory", device->name);
	}
	poller->stop_fd = eventfd(0, EFD_CLOEXEC);
	if (poller->stop_fd < 0)
		return error_set(
		    error, ERROR_IO, "start polling: %s", strerrordesc_np(errno));
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
	struct poller *poller = allocate(settings, bus);

	if (!poller) {
		error_set(error, ERROR_MEMORY, "start polling: out of memory");
		return NULL;
	}
	poller->sink = sink;
	poller->arg = arg;
	if (prepare(poller, settings, bus, error) || start_thread(poller, error)) {
		release(poller);
		return NULL;
	}
	return poller;
}

void
poller_stop(struct poller *poller)
{
	if (!poller)
		return;
	atomic_store(&poller->stop, true);
	eventfd_write(poller->stop_fd, 1);
	pthread_join(poller->thread, NULL);
	release(poller);
}

size_t
poller_status(struct poller *poller, struct device_status *status, size_t room)
{
	size_t count = poller->count < room ? poller->count : room;

	pthread_mutex_lock(&poller->mutex);
	for (size_t i = 0; i < count; i++)
		status[i] = poller->polled[i].status;
	pthread_mutex_unlock(&poller->mutex);
	return count;
}

/* Until groups have schedules of their own every one is read as often as the device. */
void
poller_hurry(struct poller *poller, uint32_t line)
{
	(void)poller, (void)line;
}
