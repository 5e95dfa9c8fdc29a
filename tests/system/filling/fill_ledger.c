/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * fill_ledger CONFIG SHOTS PERIOD_S END_S [SEED]: for tests of delivery, SHOTS made-up shots
 * on each line of the configuration, one in PERIOD_S, the last one filed at END_S (seconds
 * since 1970), into its ledger by the daemon's own writer, lines in turns.  Most readings
 * are as a device gives them; a value in ten is absent, every twentieth shot is partial and
 * has the instant at which it was closed in common with the one before.
 */
#include <math.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/shot/shot.h"

static unsigned short state[3] = {0, 0, 1};
static struct error error;

static void
need(bool ok, const char *what)
{
	if (ok)
		return;
	fprintf(stderr, "fill_ledger: %s: %s\n", what, error.text);
	exit(3);
}

static double
reading(void)
{
	return (double)(nrand48(state) % 4000 - 500) * 0.1;
}

static double
computed(void)
{
	return (erand48(state) - 0.3) * pow(10, 7 * erand48(state) - 3);
}

/* A flow in m3/s is a small number always: what it is not keeps no digits in some stores. */
static void
make_flow(struct shot_channel *channel)
{
	channel->mean = (1 + erand48(state)) * 1e-4;
	channel->min = channel->last = channel->mean / 2;
	channel->max = channel->mean * 2;
	channel->sd = channel->mean / 64;
}

static void
fill_values(const struct settings *settings, struct shot *shot)
{
	for (int id = 0; id < FEATURE_COUNT; id++) {
		bool absent = erand48(state) < 0.1;
		shot->value[id] = absent ? NAN : computed();
		shot->absent[id] = absent ? ABSENT_STALE : ABSENT_NOT;
	}
	for (size_t i = 0; i < shot->channel_count; i++) {
		struct shot_channel *channel = &shot->channels[i];
		if (erand48(state) < 0.1) {
			channel->absent = ABSENT_SENSOR_FAULT;
			continue;
		}
		channel->absent = ABSENT_NOT;
		channel->min = reading();
		channel->mean = computed();
		channel->max = reading();
		channel->sd = i % 5 == 0 ? NAN : fabs(computed());
		channel->last = reading();
		channel->coverage = erand48(state);
		if (settings->channels[channel->channel].dimension == DIMENSION_FLOW)
			make_flow(channel);
	}
}

/* The channels of the line alone, as the tracker has them. */
static struct shot *
make_shot(const struct settings *settings, uint32_t line)
{
	size_t count = 0;
	struct shot *shot;

	for (size_t i = 0; i < settings->channel_count; i++)
		count += settings->devices[settings->channels[i].device].line == line;
	shot = shot_new(count);
	need(shot != NULL, "no memory for a shot");
	shot->line = line;
	shot->channel_count = count;
	count = 0;
	for (size_t i = 0; i < settings->channel_count; i++)
		if (settings->devices[settings->channels[i].device].line == line)
			shot->channels[count++].channel = (uint32_t)i;
	return shot;
}

static void
put_shot(struct ledger *ledger, const struct settings *settings, uint32_t line,
    int64_t number, int64_t ns)
{
	struct shot *shot = make_shot(settings, line);
	bool partial = number % 20 == 0;

	shot->shot_no = number;
	shot->side = -1;
	shot->outcome = partial ? SHOT_PARTIAL : SHOT_COMPLETE;
	shot->recipe = number % 9 == 0 ? 31 : 12;
	shot->cycle_count = number + 40000;
	shot->uncertainty_s = 0.25;
	shot->set_points = number % 9 == 0 ? 0 : UINT64_C(0x5eed) + line;
	shot->closed_at.ns = ns;
	if (partial)
		snprintf(shot->reason, sizeof shot->reason,
		    "the \"logger\" stopped, a = b \\ c");
	else
		shot->form_start_at.ns = ns;
	fill_values(settings, shot);
	need(ledger_put_shot(ledger, settings, shot, &error) == 0, "write a shot");
	shot_free(shot);
}

int
main(int count, char **words)
{
	static struct problems problems;
	int64_t setup;

	if (count < 5) {
		fputs(
		    "usage: fill_ledger CONFIG SHOTS PERIOD_S END_S [SEED]\n", stderr);
		return 2;
	}
	int64_t shots = strtoll(words[2], NULL, 10);
	double period_s = strtod(words[3], NULL), end_s = strtod(words[4], NULL);
	state[0] = (unsigned short)(count > 5 ? strtol(words[5], NULL, 10) : 1);
	struct settings *settings = settings_load(words[1], &problems);
	if (settings == NULL) {
		fprintf(stderr, "%s\n", problems.list[0].text);
		return 2;
	}
	struct ledger *ledger = ledger_open(settings->ledger, NULL, &error);
	need(ledger != NULL, "open the ledger");
	double start_s = end_s - period_s * (double)shots;
	need(ledger_put_setup(ledger, settings, (struct wall){(int64_t)(start_s * 1e9)},
		 &setup, &error) == 0,
	    "file the configuration");
	need(ledger_set_hasty(ledger, true, &error) == 0, "go fast");
	for (int64_t number = 1; number <= shots; number++) {
		for (uint32_t line = 0; line < settings->line_count; line++) {
			/* A partial one goes with the one before it; lines are apart. */
			int64_t turn = number % 20 == 0 ? number - 1 : number;
			double s = start_s + period_s * ((double)turn + 0.1 * line);
			put_shot(ledger, settings, line, number, (int64_t)(s * 1e9));
		}
	}
	need(ledger_set_hasty(ledger, false, &error) == 0, "end going fast");
	ledger_close(ledger);
	settings_free(settings);
	return 0;
}
