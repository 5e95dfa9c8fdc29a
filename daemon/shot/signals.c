/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/signals.h"

#include <math.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"

#define GAP_PERIODS 4.0 /* the controller silent this many polls ... */
#define GAP_LEAST_S 5.0 /* ... and this long: an edge may have gone by unseen */

void
signals_init(
    struct signals *signals, const struct settings *settings, const struct roles *roles)
{
	const struct channel_settings *channels = settings->channels;
	uint32_t controller = channels[roles->bit[ROLE_ROTATING]].device;
	int32_t count = roles->bit[ROLE_CYCLE_COUNT];

	*signals = (struct signals){.settings = settings,
	    .roles = roles,
	    .recipe = -1,
	    .cycle_count = -1,
	    .edge_limit_s = fmax(
		GAP_LEAST_S, GAP_PERIODS * settings->devices[controller].period_s)};
	for (int role = 0; role < SIGNAL_BITS; role++)
		if (roles->bit[role] != ROLES_NONE)
			bit_init(&signals->bits[role],
			    channels[roles->bit[role]].debounce_s);
	if (count != ROLES_NONE) {
		bool word = channels[count].encoding == ENCODING_UINT16 ||
		            channels[count].encoding == ENCODING_INT16;

		counter_init(&signals->counter, INT64_C(1) << (word ? 16 : 32));
	}
}

bool
signals_off(const struct signals *signals, enum role bit)
{
	return signals->roles->bit[bit] != ROLES_NONE && signals->bits[bit].known &&
	       !signals->bits[bit].level;
}

bool
signals_on(const struct signals *signals, enum role bit)
{
	return signals->bits[bit].known && signals->bits[bit].level;
}

/* The good reading of a role's channel in this scan; NULL when there is none. */
static const struct reading *
good_reading(const struct signals *signals, const struct scan *scan, enum role role)
{
	const struct device_settings *device =
	    &signals->settings->devices[scan->device];
	int32_t channel = signals->roles->bit[role];
	const struct reading *reading;

	if (channel == ROLES_NONE || (uint32_t)channel < device->first_channel ||
	    (uint32_t)channel >= device->first_channel + scan->count)
		return NULL;
	reading = &scan->readings[(uint32_t)channel - device->first_channel];
	return reading->quality == QUALITY_GOOD ? reading : NULL;
}

static void
take_words(struct signals *signals, const struct scan *scan)
{
	const struct reading *recipe = good_reading(signals, scan, ROLE_RECIPE);
	const struct reading *count = good_reading(signals, scan, ROLE_CYCLE_COUNT);

	if (recipe != NULL)
		signals->recipe = (int)recipe->value;
	if (count != NULL)
		signals->cycle_count = (int64_t)count->value;
}

/* Polls of the controller are missing since the last good one. */
static void
take_silence(struct signals *signals, const struct scan *scan, struct news *news)
{
	double silence_s =
	    (double)(scan->at.ns - signals->heard.ns) / (double)CLOCK_SECOND_NS;

	if (signals->heard.ns != 0 && silence_s > signals->edge_limit_s) {
		news->silence = true;
		counter_gap(&signals->counter);
		signals->gap_from = signals->heard;
	}
	signals->heard = scan->sent;
}

static void
take_bits(struct signals *signals, const struct scan *scan, struct news *news)
{
	const struct bit eye = signals->bits[ROLE_SAG_EYE];
	if (!signals->bits[ROLE_ROTATING].pending) {
		signals->load_empty = signals_off(signals, ROLE_SHEET_AT_LOAD);
		signals->form_empty = signals_off(signals, ROLE_SHEET_AT_FORM);
	}
	news->load_empty = signals->load_empty;
	news->form_empty = signals->form_empty;
	for (int role = 0; role < SIGNAL_BITS; role++) {
		const struct reading *reading =
		    good_reading(signals, scan, (enum role)role);

		if (reading != NULL)
			news->change[role] =
			    bit_take(&signals->bits[role], reading->value != 0.0,
				scan->sent, scan->at, scan->wall, &news->edge[role]);
	}
	/* The machine went on it: the sheet had sagged. */
	news->sagged = news->change[ROLE_ROTATING] == BIT_ROSE && eye.known &&
	               eye.pending && !eye.level &&
	               !signals->bits[ROLE_SAG_EYE].pending &&
	               news->change[ROLE_SAG_EYE] == BIT_SAME;
	news->sag = eye.first;
}

/* Compares the counter with the indexes seen, while nothing rotates. */
static void
take_counter(struct signals *signals, const struct scan *scan, struct news *news)
{
	const struct reading *count = good_reading(signals, scan, ROLE_CYCLE_COUNT);
	struct edge *when = &news->when;

	if (news->change[ROLE_ROTATING] == BIT_FELL &&
	    !signals_off(signals, ROLE_AUTOMATIC))
		counter_move(&signals->counter);
	if (count == NULL || signals->bits[ROLE_ROTATING].level ||
	    signals->bits[ROLE_ROTATING].pending)
		return;
	switch (counter_take(
	    &signals->counter, (int64_t)count->value, scan->at, &news->missed)) {
	case COUNTER_AGREES:
		return;
	case COUNTER_ASTRAY:
		news->astray = true;
		return;
	case COUNTER_JUMPED:
		news->jumped = true;
		return;
	case COUNTER_AHEAD:
		break;
	}
	for (int64_t i = 0; i < news->missed; i++)
		counter_move(&signals->counter);
	*when =
	    (struct edge){.known = true, .before = signals->gap_from, .at = scan->at};
	when->wall.ns = scan->wall.ns - (scan->at.ns - edge_time(when).ns);
}

void
signals_take(struct signals *signals, const struct scan *scan, struct news *news)
{
	bool heard = good_reading(signals, scan, ROLE_ROTATING) != NULL;

	*news = (struct news){.missed = 0};
	take_words(signals, scan);
	if (heard)
		take_silence(signals, scan, news);
	take_bits(signals, scan, news);
	if (heard)
		take_counter(signals, scan, news);
}
