/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/buses.h"

#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"

struct buses {
	const struct settings *settings; /* of the pollers; outlives them */
	struct poller **pollers;
	size_t count;
	struct wall since;
};

struct buses *
buses_new(void)
{
	return calloc(1, sizeof(struct buses));
}

void
buses_free(struct buses *buses)
{
	free(buses);
}

int
buses_start(struct buses *buses, const struct settings *settings, poller_sink *sink,
    void *arg, struct error *error)
{
	buses->since = clock_wall();
	buses->settings = settings;
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
	return 0;
}

void
buses_stop(struct buses *buses)
{
	while (buses->count > 0)
		poller_stop(buses->pollers[--buses->count]);
	free(buses->pollers);
	buses->pollers = NULL;
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
