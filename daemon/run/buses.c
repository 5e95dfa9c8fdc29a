/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/buses.h"

#include <math.h>
#include <pthread.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/run/service_manager.h"

struct buses {
	struct poller **pollers; /* by bus of the settings */
	size_t count;
	const struct settings *polled; /* what they were started with */
	struct wall since;

	/* For whoever hurries them: the same pollers from when all are started until the
	 * first is stopped.  The mutex is held over no call that waits. */
	pthread_mutex_t mutex;
	const struct settings *settings; /* of the pollers; outlives them; NULL: none */
};

struct buses *
buses_new(void)
{
	struct buses *buses = calloc(1, sizeof(*buses));

	if (buses != NULL)
		pthread_mutex_init(&buses->mutex, NULL);
	return buses;
}

void
buses_free(struct buses *buses)
{
	if (buses == NULL)
		return;
	pthread_mutex_destroy(&buses->mutex);
	free(buses);
}

static void
show(struct buses *buses, const struct settings *settings)
{
	pthread_mutex_lock(&buses->mutex);
	buses->settings = settings;
	pthread_mutex_unlock(&buses->mutex);
}

int
buses_start(struct buses *buses, const struct settings *settings, poller_sink *sink,
    void *arg, struct error *error)
{
	buses->since = clock_wall();
	buses->polled = settings;
	buses->pollers = calloc(settings->bus_count + 1, sizeof(struct poller *));
	if (buses->pollers == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < settings->bus_count; i++) {
		buses->pollers[i] =
		    poller_start(settings, (uint32_t)i, sink, arg, error);
		if (buses->pollers[i] == NULL)
			return ERROR_IO;
		buses->count++;
	}
	show(buses, settings);
	return 0;
}

/* Waits for all of them, all the while at most `most_s`, and tells systemd that this is
 * no standstill: neither the watchdog nor its limit on stopping is to end us. */
static void
wait_for_all(struct buses *buses, double most_s)
{
	double waited_s = 0;

	for (size_t i = 0; i < buses->count; i++)
		while (!poller_wait(buses->pollers[i], 1) && waited_s < most_s) {
			waited_s++;
			service_manager_tell(
			    "WATCHDOG=1\nEXTEND_TIMEOUT_USEC=30000000");
		}
}

void
buses_stop(struct buses *buses)
{
	const struct settings *settings = buses->polled;
	double longest_s = 0;

	show(buses, NULL);
	for (size_t i = 0; i < buses->count; i++)
		poller_end(buses->pollers[i]);
	for (size_t i = 0; buses->count > 0 && i < settings->device_count; i++)
		longest_s = fmax(longest_s, settings->devices[i].timeout_s);
	wait_for_all(buses, POLLER_END_TIMEOUTS * longest_s + 1);
	while (buses->count > 0)
		poller_stop(buses->pollers[--buses->count]);
	free(buses->pollers);
	buses->pollers = NULL;
}

/* Whether there is something of the line on the bus that is read as a heat begins. */
static bool
has_at_heat(const struct settings *settings, uint32_t bus, uint32_t line)
{
	for (size_t i = 0; i < settings->device_count; i++) {
		const struct device_settings *device = &settings->devices[i];

		if (device->bus != bus || device->line != line)
			continue;
		for (int k = 0; k < device->group_count; k++)
			if (device->groups[k].at_heat)
				return true;
	}
	return false;
}

void
buses_hurry(struct buses *buses, uint32_t line)
{
	pthread_mutex_lock(&buses->mutex);
	for (uint32_t i = 0; buses->settings != NULL && i < buses->settings->bus_count;
	     i++)
		if (has_at_heat(buses->settings, i, line))
			poller_hurry(buses->pollers[i], line);
	pthread_mutex_unlock(&buses->mutex);
}

size_t
buses_count(const struct buses *buses)
{
	return buses->count;
}

struct poller *
buses_get(const struct buses *buses, size_t bus)
{
	return buses->pollers[bus];
}

struct wall
buses_since(const struct buses *buses)
{
	return buses->since;
}

const struct settings *
buses_polled(const struct buses *buses)
{
	return buses->polled;
}
