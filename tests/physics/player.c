/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "tests/physics/player.h"

#include <assert.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "conf/raw.h"
#include "contrib/linesim/random.h"
#include "daemon/base/scan.h"
#include "daemon/shot/tracker.h"

#define ANSWER_LEAST_S 0.005
#define ANSWER_MOST_S 0.04
#define SAME_EDGE_S 3.0 /* an edge as seen and as it was */
#define WAIT_S 20.0     /* for the sheet of a shot to leave the line */

enum { STREAM_BUS = 79, POLLS_MAX = 32, WAITING_MAX = 16 };

/* Of one group of a device's channels. */
struct poll {
	int place; /* of the device in the simulated line */
	double next_s, period_s;
	bool at_heat; /* and as a heat begins */
	struct scan *scan;
};

struct player {
	struct player_setup setup;
	struct plant_line *line;
	struct tracker *tracker;
	struct random random;
	struct poll polls[POLLS_MAX];
	int poll_count;
	double now_s;
	size_t given; /* complete shots so far */
	/* Shots whose sheet has not left the line yet. */
	struct shot *waiting[WAITING_MAX];
	int waiting_count;
};

struct settings *
player_settings(void)
{
	static struct problems problems;
	struct settings *settings = settings_load("conf/demo.ini", &problems);

	if (settings != NULL)
		return settings;
	for (size_t i = 0; i < problems.count && i < SETTINGS_PROBLEMS; i++)
		fprintf(stderr, "%s\n", problems.list[i].text);
	exit(2);
}

static int64_t
ns(double seconds)
{
	return llround(seconds * (double)CLOCK_SECOND_NS);
}

/* --- shots and sheets ----------------------------------------------------------------- */

/* Since the line's start; NAN unknown. */
static double
since_start_s(const struct player *player, struct wall at)
{
	int64_t start_ns = player->setup.line.start_unix_s * CLOCK_SECOND_NS;

	return at.ns == 0 ? NAN : (double)(at.ns - start_ns) / (double)CLOCK_SECOND_NS;
}

static const struct plant_line_sheet *
sheet_of(const struct player *player, const struct shot *shot)
{
	double form_s = since_start_s(player, shot->form_start_at);
	double heat_s = since_start_s(player, shot->heat_start_at);
	const struct plant_line_sheet *sheets;
	size_t count;

	sheets = plant_line_sheets(player->line, &count);
	while (count-- > 0)
		if (fabs(sheets[count].form_start_s - form_s) < SAME_EDGE_S ||
		    fabs(sheets[count].heat_start_s - heat_s) < SAME_EDGE_S)
			return &sheets[count];
	return NULL;
}

/* The oldest go first, so that none passes another. */
static void
give_out(struct player *player, bool all)
{
	while (player->waiting_count > 0) {
		struct shot *shot = player->waiting[0];
		const struct plant_line_sheet *sheet = sheet_of(player, shot);

		if (sheet == NULL && !all &&
		    player->now_s - since_start_s(player, shot->closed_at) < WAIT_S)
			return;
		player->given += shot->outcome == SHOT_COMPLETE;
		player->setup.take(player->setup.arg, shot, sheet);
		shot_free(shot);
		player->waiting_count--;
		memmove(player->waiting, player->waiting + 1,
		    (size_t)player->waiting_count * sizeof player->waiting[0]);
	}
}

static void
take_shot(void *arg, struct shot *shot)
{
	struct player *player = arg;

	assert(player->waiting_count < WAITING_MAX);
	player->waiting[player->waiting_count++] = shot;
	give_out(player, false);
}

static void
take_event(void *arg, struct wall at, const char *kind, const char *text)
{
	(void)arg;
	(void)at;
	(void)kind;
	(void)text;
}

static void
take_question(
    void *arg, int recipe, struct wall at, struct circumstances *circumstances)
{
	const struct player *player = arg;

	(void)recipe;
	(void)at;
	if (player->setup.tell != NULL)
		player->setup.tell(player->setup.arg, circumstances);
}

/* --- the bus -------------------------------------------------------------------------- */

static uint32_t
swap_bytes(uint32_t value)
{
	return (value & 0x00ff00ff) << 8 | (value >> 8 & 0x00ff00ff);
}

static uint32_t
raw_of(const struct player *player, int device, const struct channel_settings *channel)
{
	enum plant_line_table table = (enum plant_line_table)channel->table;
	bool two = channel->encoding == ENCODING_INT32 ||
	           channel->encoding == ENCODING_UINT32 ||
	           channel->encoding == ENCODING_FLOAT32;
	uint32_t first, second;

	first = plant_line_word(player->line, device, table, channel->address);
	if (!two)
		return first;
	second = plant_line_word(player->line, device, table, channel->address + 1);
	switch (channel->order) {
	case WORD_ORDER_ABCD:
		return first << 16 | second;
	case WORD_ORDER_BADC:
		return swap_bytes(first << 16 | second);
	case WORD_ORDER_CDAB:
		return second << 16 | first;
	case WORD_ORDER_DCBA:
		return swap_bytes(second << 16 | first);
	}
	return 0;
}

static void
take_heat(void *arg)
{
	struct player *player = arg;

	for (int i = 0; i < player->poll_count; i++)
		if (player->polls[i].at_heat)
			player->polls[i].next_s = player->now_s + ANSWER_MOST_S;
}

static void
ask(struct player *player, struct poll *poll)
{
	const struct settings *settings = player->setup.settings;
	struct scan *scan = poll->scan;
	uint32_t first = settings->devices[scan->device].first_channel + scan->first;
	double answered_s =
	    poll->next_s + ANSWER_LEAST_S +
	    (ANSWER_MOST_S - ANSWER_LEAST_S) * random_uniform(&player->random);
	bool answers;

	plant_line_run(player->line, poll->next_s);
	answers = plant_line_ask(player->line, poll->place);
	scan->sent.ns = ns(poll->next_s);
	scan->at.ns = ns(answered_s);
	scan->wall.ns = player->setup.line.start_unix_s * CLOCK_SECOND_NS + scan->at.ns;
	for (uint32_t i = 0; i < scan->count; i++) {
		const struct channel_settings *channel = &settings->channels[first + i];

		scan->readings[i] =
		    answers ? raw_reading(channel, raw_of(player, poll->place, channel))
			    : (struct reading){NAN, QUALITY_COMM_FAULT, 0};
	}
	raw_apply_faults(settings, scan);
	poll->next_s += poll->period_s;
	tracker_scan(player->tracker, scan);
}

static void
step(struct player *player)
{
	struct poll *next = player->polls;

	for (int i = 1; i < player->poll_count; i++)
		if (player->polls[i].next_s < next->next_s)
			next = &player->polls[i];
	player->now_s = next->next_s;
	ask(player, next);
	if (player->waiting_count > 0)
		give_out(player, false);
}

/* --- life ----------------------------------------------------------------------------- */

static void
add_polls(struct player *player, uint32_t number)
{
	const struct device_settings *device = &player->setup.settings->devices[number];

	for (int g = 0; g < device->group_count; g++) {
		const struct group_settings *group = &device->groups[g];
		struct poll *poll = &player->polls[player->poll_count++];

		assert(player->poll_count <= POLLS_MAX);
		*poll = (struct poll){.place = plant_line_device(device->name),
		    .period_s = group->period_s,
		    .at_heat = group->at_heat,
		    .next_s = random_uniform(&player->random),
		    .scan = calloc(1, scan_bytes(group->count))};
		assert(poll->place >= 0 && poll->scan != NULL);
		poll->scan->device = number;
		poll->scan->first = group->first;
		poll->scan->count = group->count;
	}
}

struct player *
player_new(const struct player_setup *setup)
{
	const struct settings *settings = setup->settings;
	struct player *player = calloc(1, sizeof *player);
	struct tracker_sink sink = {.shot = take_shot,
	    .event = take_event,
	    .circumstances = take_question,
	    .heat = take_heat,
	    .arg = player};

	assert(player != NULL);
	player->setup = *setup;
	player->line = plant_line_new(&setup->line);
	if (player->line == NULL) {
		free(player);
		return NULL;
	}
	random_init(&player->random, setup->line.seed, STREAM_BUS);
	for (uint32_t i = 0; i < settings->device_count; i++)
		add_polls(player, i);
	player->tracker =
	    tracker_new(settings, 0, (struct tracker_start){.no_traces = true}, sink);
	assert(player->tracker != NULL);
	return player;
}

void
player_free(struct player *player)
{
	if (player == NULL)
		return;
	tracker_finish(player->tracker);
	give_out(player, true);
	tracker_free(player->tracker);
	plant_line_free(player->line);
	for (int i = 0; i < player->poll_count; i++)
		free(player->polls[i].scan);
	free(player);
}

void
player_run_shots(struct player *player, int count)
{
	size_t end = player->given + (size_t)count;

	while (player->given < end)
		step(player);
}

void
player_run_s(struct player *player, double seconds)
{
	double end_s = player->now_s + seconds;

	while (player->now_s < end_s)
		step(player);
}

void
player_play(const struct player_setup *setup, int count)
{
	struct player *player = player_new(setup);

	assert(player != NULL);
	player_run_shots(player, count);
	player_free(player);
}
