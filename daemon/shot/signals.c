/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/signals.h"

#include <limits.h>
#include <math.h>

#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/scanned.h"

#define WAIT_S 2.0 /* a bit that nobody reads any more holds the others up so long */

/* Of edges at one time, the order in which a machine makes them: open, sag, go, arrive,
 * close.  [0] a fall, [1] a rise. */
static const int rank[SIGNAL_BITS][2] = {
    [ROLE_AUTOMATIC] = {0, 0},
    [ROLE_FAULT] = {1, 1},
    [ROLE_FORM_CLOSED] = {2, 12},
    [ROLE_SAG_EYE] = {3, 4},
    [ROLE_CLAMP_CLOSED] = {5, 7},
    [ROLE_SHEET_IN_FRAME] = {6, 8},
    [ROLE_ROTATING] = {10, 9},
    [ROLE_OVEN_IN] = {10, 9},
    [ROLE_SHEET_AT_LOAD] = {11, 8},
    [ROLE_SHEET_AT_FORM] = {11, 11},
};

void
signals_init(struct signals *signals, const struct settings *settings,
    const struct roles *roles, enum machine machine)
{
	const struct channel_settings *channels = settings->channels;
	int32_t count = roles->bit[ROLE_CYCLE_COUNT];

	*signals = (struct signals){.settings = settings,
	    .roles = roles,
	    .mover = machine != MACHINE_ROTARY                 ? ROLE_OVEN_IN
	             : roles->bit[ROLE_ROTATING] != ROLES_NONE ? ROLE_ROTATING
	                                                       : ROLE_CYCLE_COUNT,
	    .recipe = -1,
	    .cycle_count = -1,
	    .edge_limit_s = roles_edge_limit_s(settings, roles)};
	signals->counts = signals->mover == ROLE_ROTATING;
	for (int role = 0; role < SIGNAL_BITS; role++) {
		signals->silence_s[role] =
		    roles_silence_s(settings, roles, (enum role)role);
		if (roles->bit[role] != ROLES_NONE)
			bit_init(&signals->bits[role],
			    channels[roles->bit[role]].debounce_s);
	}
	if (count != ROLES_NONE) {
		bool word = channels[count].encoding == ENCODING_UINT16 ||
		            channels[count].encoding == ENCODING_INT16;

		counter_init(&signals->counter, INT64_C(1) << (word ? 16 : 32));
	}
}

bool
signals_have(const struct signals *signals, enum role bit)
{
	return signals->roles->bit[bit] != ROLES_NONE;
}

bool
signals_off(const struct signals *signals, enum role bit)
{
	return signals_have(signals, bit) && signals->bits[bit].known &&
	       !signals->bits[bit].level;
}

bool
signals_on(const struct signals *signals, enum role bit)
{
	return signals_have(signals, bit) && signals->bits[bit].known &&
	       signals->bits[bit].level;
}

bool
signals_deaf(const struct signals *signals, enum role bit, struct mono now)
{
	int64_t heard_ns = signals->bit_heard[bit].ns;

	return signals_have(signals, bit) && heard_ns != 0 &&
	       (double)(now.ns - heard_ns) / (double)CLOCK_SECOND_NS >
	           signals->silence_s[bit];
}

/* The good reading of a role's channel in this scan; NULL when there is none. */
static const struct reading *
good_reading(const struct signals *signals, const struct scan *scan, enum role role)
{
	int32_t channel = signals->roles->bit[role];

	return channel == ROLES_NONE
	           ? NULL
	           : scanned_good(signals->settings, scan, (uint32_t)channel);
}

static void
take_words(struct signals *signals, const struct scan *scan)
{
	const struct reading *recipe = good_reading(signals, scan, ROLE_RECIPE);
	const struct reading *count = good_reading(signals, scan, ROLE_CYCLE_COUNT);

	if (recipe != NULL)
		signals->recipe = recipe->value >= 0.0 && recipe->value <= INT_MAX
		                      ? (int)recipe->value
		                      : -1; /* a number that no recipe has */
	if (count != NULL)
		signals->cycle_count = (int64_t)count->value;
}

/* Polls of the controller are missing since the last good one. */
static void
take_silence(struct signals *signals, const struct scan *scan, struct news *news)
{
	double silence_s =
	    (double)(scan->at.ns - signals->heard.ns) / (double)CLOCK_SECOND_NS;

	signals->prior = signals->heard;
	if (signals->heard.ns != 0 && silence_s > signals->edge_limit_s) {
		news->silence = true;
		signals->gap_from = signals->heard;
		signals->moved_since = false;
		counter_gap(&signals->counter);
		news->unsure = signals->counts && counter_is_late(&signals->counter);
	}
	signals->heard = scan->sent;
}

/* --- edges in order ----------------------------------------------------------------- */

static bool
earlier(const struct change *a, const struct change *b)
{
	int64_t a_ns = edge_time(&a->edge).ns, b_ns = edge_time(&b->edge).ns;

	if (a_ns != b_ns)
		return a_ns < b_ns;
	return rank[a->bit][a->rose] < rank[b->bit][b->rose];
}

/* The first `gone` that wait go. */
static void
let_first_go(struct signals *signals, size_t gone, struct news *news)
{
	for (size_t i = 0; i < gone; i++)
		news->changes[news->count++] = signals->wait[i];
	signals->waiting -= gone;
	for (size_t i = 0; i < signals->waiting; i++)
		signals->wait[i] = signals->wait[i + gone];
}

static void
wait_for_turn(struct signals *signals, const struct change *change, struct news *news)
{
	size_t i;

	if (signals->waiting == SIGNAL_CHANGES)
		let_first_go(signals, 1, news);
	for (i = signals->waiting++; i > 0 && earlier(change, &signals->wait[i - 1]);
	     i--)
		signals->wait[i] = signals->wait[i - 1];
	signals->wait[i] = *change;
}

/* Until when no edge can come to light any more that happened earlier. */
static int64_t
sure_until_ns(const struct signals *signals, struct mono now)
{
	int64_t sure_ns = INT64_MAX;

	for (int role = 0; role < SIGNAL_BITS; role++) {
		const struct bit *bit = &signals->bits[role];
		int64_t hold_ns =
		    bit->debounce_ns + (int64_t)(WAIT_S * (double)CLOCK_SECOND_NS);

		if (bit->pending && now.ns - bit->first.at.ns <= hold_ns &&
		    edge_time(&bit->first).ns < sure_ns)
			sure_ns = edge_time(&bit->first).ns;
	}
	return sure_ns;
}

static void
let_go(struct signals *signals, struct mono now, struct news *news)
{
	int64_t sure_ns = sure_until_ns(signals, now);
	size_t gone = 0;

	while (gone < signals->waiting &&
	       edge_time(&signals->wait[gone].edge).ns <= sure_ns)
		gone++;
	let_first_go(signals, gone, news);
}

/* The sheet begins to leave the oven by this bit; `level` as polled. */
static bool
begins_to_leave(const struct signals *signals, enum role role, bool level)
{
	return role == signals->mover && level != signals->bits[role].level &&
	       !signals->bits[role].pending && level == (role == ROLE_ROTATING);
}

/* The ring begins to turn, after a pause in the polls in which a sheet can have been put
 * into the frame: then what the eye shows now tells more than what it showed before. */
static void
look_at_load_again(struct signals *signals, const struct scan *scan, bool began)
{
	double pause_s =
	    (double)(scan->at.ns - signals->prior.ns) / (double)CLOCK_SECOND_NS;

	if (began && signals->seen[ROLE_ROTATING] &&
	    signals->seen[ROLE_SHEET_AT_LOAD] && pause_s > signals->edge_limit_s / 2.0)
		signals->load_empty = false;
}

/* What the eyes said before this scan.  A counter and the eyes are not read at one instant:
 * only what they said twice was so before it went up. */
static void
look_at_eyes(struct signals *signals, const struct scan *scan)
{
	bool load_off = signals_off(signals, ROLE_SHEET_AT_LOAD);
	bool form_off = signals_off(signals, ROLE_SHEET_AT_FORM);
	bool counted = signals->mover == ROLE_CYCLE_COUNT;

	if (signals->bits[ROLE_ROTATING].pending ||
	    (counted && good_reading(signals, scan, ROLE_CYCLE_COUNT) == NULL))
		return;
	signals->load_empty = load_off && (!counted || signals->load_off);
	signals->form_empty = form_off && (!counted || signals->form_off);
	signals->load_off = load_off;
	signals->form_off = form_off;
}

static void
take_bits(struct signals *signals, const struct scan *scan, struct news *news)
{
	const struct bit eye = signals->bits[ROLE_SAG_EYE];
	bool stood = !signals->seen[ROLE_ROTATING];

	look_at_eyes(signals, scan);
	for (int role = 0; role < SIGNAL_BITS; role++) {
		const struct reading *reading =
		    good_reading(signals, scan, (enum role)role);
		struct change change = {.bit = (enum role)role};

		if (reading == NULL)
			continue;
		news->deaf[role] = signals_deaf(signals, (enum role)role, scan->at);
		signals->bit_heard[role] = scan->sent;
		signals->seen[role] =
		    bit_level(&signals->settings->channels[signals->roles->bit[role]],
			reading->value, signals->seen[role]);
		/* The machine goes on it: the sheet has sagged. */
		if (begins_to_leave(signals, (enum role)role, signals->seen[role])) {
			signals->sagging = eye.first;
			signals->sagging.known = eye.known && eye.pending && !eye.level;
		}
		if (bit_take(&signals->bits[role], signals->seen[role], scan->sent,
			scan->at, scan->wall, &change.edge) == BIT_SAME)
			continue;
		change.rose = signals->bits[role].level;
		wait_for_turn(signals, &change, news);
	}
	look_at_load_again(signals, scan, stood);
}

/* --- the counter -------------------------------------------------------------------- */

/* Indexes that no bit told: between `before` and this scan. */
static void
put_missed(struct mono before, const struct scan *scan, struct news *news)
{
	struct edge *when = &news->when;

	*when = (struct edge){.known = true, .before = before, .at = scan->at};
	when->wall.ns = scan->wall.ns - (scan->at.ns - edge_time(when).ns);
}

/* The counter is all that tells of an index. */
static void
follow_counter(
    struct signals *signals, const struct scan *scan, int64_t count, struct news *news)
{
	if (!counter_follow(&signals->counter, count, &news->missed))
		news->jumped = true;
	if (news->missed > 0)
		put_missed(signals->prior, scan, news);
}

/* Compares the counter with the indexes seen, while nothing moves. */
static void
check_counter(
    struct signals *signals, const struct scan *scan, int64_t count, struct news *news)
{
	if (signals->bits[signals->mover].level ||
	    signals->bits[signals->mover].pending || signals->waiting > 0)
		return;
	bool gap = signals->counter.gap;

	switch (counter_take(&signals->counter, count, scan->at, &news->missed)) {
	case COUNTER_AGREES:
		return;
	case COUNTER_ASTRAY:
		news->astray = true;
		return;
	case COUNTER_JUMPED:
		news->jumped = true;
		news->unsure = gap;
		return;
	case COUNTER_AHEAD:
		break;
	}
	if (signals->moved_since) {
		news->missed = 0;
		news->unsure = true;
		return;
	}
	for (int64_t i = 0; i < news->missed; i++)
		counter_move(&signals->counter);
	put_missed(signals->gap_from, scan, news);
}

static void
take_counter(struct signals *signals, const struct scan *scan, struct news *news)
{
	const struct reading *count = good_reading(signals, scan, ROLE_CYCLE_COUNT);

	for (size_t i = 0; i < news->count; i++)
		if (news->changes[i].bit == ROLE_ROTATING && !news->changes[i].rose) {
			counter_move(&signals->counter);
			signals->moved_since = true;
		}
	if (count == NULL)
		return;
	if (signals->mover == ROLE_CYCLE_COUNT)
		follow_counter(signals, scan, (int64_t)count->value, news);
	else if (signals->counts)
		check_counter(signals, scan, (int64_t)count->value, news);
}

void
signals_take(struct signals *signals, const struct scan *scan, struct news *news)
{
	bool heard = good_reading(signals, scan, signals->mover) != NULL;

	*news = (struct news){.missed = 0};
	take_words(signals, scan);
	if (heard)
		take_silence(signals, scan, news);
	take_bits(signals, scan, news);
	let_go(signals, scan->at, news);
	if (heard)
		take_counter(signals, scan, news);
}

/* --- over a restart ----------------------------------------------------------------- */

static void
freeze_bit(struct freeze *freeze, struct bit *bit)
{
	freeze_bool(freeze, &bit->known);
	freeze_bool(freeze, &bit->level);
	freeze_time(freeze, &bit->seen.ns);
	freeze_bool(freeze, &bit->pending);
	freeze_edge(freeze, &bit->first);
}

static void
freeze_change(struct freeze *freeze, struct change *change)
{
	int bit = (int)change->bit;

	freeze_int(freeze, &bit);
	freeze_bool(freeze, &change->rose);
	freeze_edge(freeze, &change->edge);
	if (bit < 0 || bit >= SIGNAL_BITS)
		freeze->failed = true;
	else
		change->bit = (enum role)bit;
}

void
signals_freeze(struct signals *signals, struct freeze *freeze)
{
	uint64_t waiting = signals->waiting;

	for (int role = 0; role < SIGNAL_BITS; role++) {
		freeze_bit(freeze, &signals->bits[role]);
		freeze_bool(freeze, &signals->seen[role]);
		freeze_time(freeze, &signals->bit_heard[role].ns);
	}
	counter_freeze(&signals->counter, freeze);
	freeze_int(freeze, &signals->recipe);
	freeze_i64(freeze, &signals->cycle_count);
	freeze_bool(freeze, &signals->load_empty);
	freeze_bool(freeze, &signals->form_empty);
	freeze_bool(freeze, &signals->load_off);
	freeze_bool(freeze, &signals->form_off);
	freeze_edge(freeze, &signals->sagging);
	freeze_time(freeze, &signals->heard.ns);
	freeze_time(freeze, &signals->prior.ns);
	freeze_time(freeze, &signals->gap_from.ns);
	freeze_bool(freeze, &signals->moved_since);
	freeze_u64(freeze, &waiting);
	if (waiting > SIGNAL_CHANGES) {
		freeze->failed = true;
		return;
	}
	signals->waiting = (size_t)waiting;
	for (size_t i = 0; i < signals->waiting; i++)
		freeze_change(freeze, &signals->wait[i]);
}
