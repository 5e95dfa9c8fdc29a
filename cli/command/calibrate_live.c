/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/calibrate_source.h"

#include <math.h>
#include <signal.h>

#include "cli/command/watcher.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"

enum { LOOK_NS = 250000000, LOOK_LEAST_NS = 10000000 }; /* of the system's time */

struct live {
	const struct call *call;
	const struct settings *settings;
	int line;
	struct calibrate_run *run;
	struct watcher *watcher;
	struct watch_view view;
	struct mono until;
	sigset_t signals;
};

static bool
is_on(const struct channel_settings *channel, double value)
{
	if (isnan(channel->on_si))
		return value >= 0.5;
	return channel->on_si > channel->off_si ? value >= channel->on_si
	                                        : value <= channel->on_si;
}

/* Whether the platens are closed on any side. */
static bool
is_forming(const struct live *live)
{
	const struct settings *settings = live->settings;

	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];
		const struct watch_reading *reading = &live->view.readings[i];
		if (channel->role == ROLE_FORM_CLOSED && reading->heard &&
		    settings->devices[channel->device].line == (uint32_t)live->line &&
		    reading->last.quality == QUALITY_GOOD &&
		    is_on(channel, reading->last.value))
			return true;
	}
	return false;
}

/* Each reading once: by the time it came. */
static void
take_readings(struct live *live)
{
	for (size_t i = 0; i < live->run->sensor_count + live->run->hall_count; i++) {
		struct calibrate_sensor *sensor = &live->run->sensors[i];
		const struct watch_reading *reading =
		    &live->view.readings[sensor->channel];
		double t_s = live->view.watched_s - reading->age_s;
		bool newer =
		    sensor->count == 0 || t_s > sensor->t_s[sensor->count - 1] + 1e-6;
		if (reading->last.quality == QUALITY_GOOD && !isnan(t_s) && newer)
			calibrate_run_add(live->run, sensor, t_s, reading->last.value);
	}
}

/* To look once a second of the clock, which may run fast. */
static long
pause_ns(int64_t left_ns)
{
	int64_t ns = clock_system_ns(CLOCK_SECOND_NS);

	ns = ns > LOOK_NS ? LOOK_NS : ns < LOOK_LEAST_NS ? LOOK_LEAST_NS : ns;
	return (long)(left_ns < ns ? left_ns : ns);
}

static enum command_exit
look_until_the_end(struct live *live)
{
	char at[CALENDAR_TEXT];

	for (;;) {
		int64_t left = clock_system_ns(live->until.ns - clock_mono().ns);
		const struct timespec wait = {.tv_nsec = pause_ns(left)};
		if (left <= 0)
			return COMMAND_DONE;
		if (sigtimedwait(&live->signals, NULL, &wait) > 0) {
			fputs("evensoak: ended too soon\n", live->call->err);
			return COMMAND_NO;
		}
		watcher_look(live->watcher, &live->view);
		take_readings(live);
		if (!is_forming(live))
			continue;
		calendar_local_text(live->view.at, at);
		fprintf(live->call->err,
		    "evensoak: the platens of %s are closed at %s: offsets need a tool "
		    "without sheets\n",
		    live->settings->lines[live->line].name, at);
		return COMMAND_NO;
	}
}

static enum command_exit
start_and_look(struct live *live, double seconds)
{
	struct error error;
	enum command_exit code;

	error_set(&error, ERROR_MEMORY, "out of memory");
	if (watch_view_init(&live->view, live->settings))
		live->watcher = watcher_start(live->settings, live->line, &error);
	if (live->watcher) {
		live->until.ns = clock_mono().ns + (int64_t)(seconds * 1e9);
		code = look_until_the_end(live);
	} else {
		code = command_cannot(live->call, &error);
	}
	watcher_stop(live->watcher);
	watch_view_release(&live->view);
	return code;
}

enum command_exit
calibrate_read_line(const struct call *call, const struct settings *settings, int line,
    double seconds, struct calibrate_run *run)
{
	struct live live = {
	    .call = call, .settings = settings, .line = line, .run = run};
	sigset_t before;

	log_set_level(LOG_LEVEL_ERROR); /* silent sensors are told of */
	sigemptyset(&live.signals);
	sigaddset(&live.signals, SIGINT);
	sigaddset(&live.signals, SIGTERM);
	sigaddset(&live.signals, SIGHUP);
	pthread_sigmask(SIG_BLOCK, &live.signals, &before);
	enum command_exit code = start_and_look(&live, seconds);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	return code;
}
