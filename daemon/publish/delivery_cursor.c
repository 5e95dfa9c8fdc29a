/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/publish/delivery_inside.h"

enum {
	BROKEN_OFTEN = 3, /* connections, and no cursor moved: it is a habit */
	MISSED_MOST = 3, /* times that the same is sent again because it is not there */
};

int64_t
delivery_now_ns(void)
{
	return clock_system_ns(clock_mono().ns);
}

double
delivery_due_s(const struct delivery *delivery)
{
	int64_t due_ns = INT64_MAX;

	for (int i = 0; i < STREAM_COUNT; i++) {
		int64_t ns = settling_due_ns(&delivery->streams[i].settling);
		if (ns < due_ns)
			due_ns = ns;
	}
	if (due_ns == INT64_MAX)
		return INFINITY;
	if (due_ns < delivery->asking.next_ns && !delivery->asking.deaf)
		due_ns = delivery->asking.next_ns;
	return fmax(0, (double)(due_ns - delivery_now_ns()) * 1e-9);
}

/* --- what holds no longer ---------------------------------------------------------- */

static void
forget_batches(struct delivery *delivery)
{
	batch_clear(&delivery->batch);
	batch_clear(&delivery->next);
	batch_clear(&delivery->parked);
	delivery->body.length = delivery->next_body.length = 0;
	delivery->takes = false;
	delivery_clear_aside(delivery);
}

void
delivery_forget(struct delivery *delivery)
{
	forget_batches(delivery);
	for (int i = 0; i < STREAM_COUNT; i++) {
		delivery->streams[i].known = false;
		settling_clear(&delivery->streams[i].settling);
	}
}

bool
delivery_has_unsettled(const struct delivery *delivery)
{
	return delivery->batch.first > 0 || delivery->parked.first > 0 ||
	       delivery_due_s(delivery) < INFINITY;
}

void
delivery_step_back(struct delivery *delivery)
{
	if (delivery->store->settle_s <= 0 || !delivery_has_unsettled(delivery))
		return;
	delivery->counts.again++;
	delivery_forget(delivery);
}

/* --- moving cursors ---------------------------------------------------------------- */

bool
delivery_is_sure(struct delivery *delivery)
{
	int64_t connection = http_connection(delivery->http);
	bool sure = connection != 0 && (connection == delivery->connection ||
					   !delivery_has_unsettled(delivery));

	if (delivery->store->settle_s <= 0)
		return true;
	delivery->connection = connection;
	return sure;
}

enum delivery_state
delivery_connection_gone(struct delivery *delivery, struct error *error)
{
	delivery->counts.again++;
	delivery_forget(delivery);
	if (++delivery->broken < BROKEN_OFTEN)
		return DELIVERY_MOVING;
	error_set(error, ERROR_IO,
	    "'%s' closes each connection before what it took over it has settled "
	    "(%g s): nobody knows whether it is on its disk; let connections last "
	    "longer, there or in a proxy before it",
	    delivery->url.bytes, delivery->store->settle_s);
	delivery->counts.trouble = TROUBLE_UNREACHABLE;
	delivery->counts.answered = true;
	return DELIVERY_LATER;
}

enum delivery_state
delivery_move_cursor(struct delivery *delivery, enum stream stream,
    const struct settling_mark *mark, struct error *error)
{
	struct delivery_stream *of = &delivery->streams[stream];
	struct ledger_delivered cursor = {.change = mark->change,
	    .turn = of->cursor.turn,
	    .lost = mark->lost,
	    .at = clock_wall()};
	int code = ledger_set_delivered(delivery->ledger, delivery->store->name,
	    stream_name(stream), &cursor, error);

	if (code == ERROR_BUSY) {
		delivery_forget(delivery); /* somebody has set it back */
		return DELIVERY_MOVING;
	}
	if (code != 0)
		return DELIVERY_TROUBLE;
	of->cursor = cursor;
	of->stuck.tries = 0;
	delivery->broken = 0;
	delivery->counts.batches++;
	if (stream == STREAM_READING)
		delivery->counts.lost_readings = cursor.lost;
	return DELIVERY_MOVING;
}

/* The store lacks what it took: it is sent again, or given up when that has been done. */
static bool
goes_on_without(
    struct delivery *delivery, enum stream stream, const struct settling_entry *entry)
{
	struct delivery_asking *asking = &delivery->asking;

	if (!asking->careless && asking->missed < MISSED_MOST) {
		asking->missed++;
		delivery->counts.missed++;
		delivery->counts.again++;
		delivery_forget(delivery);
		return false;
	}
	asking->careless = true;
	if (stream == STREAM_SHOT)
		delivery->counts.unkept += entry->mark.pieces;
	return true;
}

/* Moves the cursor of a stream past what has settled.  *waits: some of it may not be asked
 * about yet. */
static enum delivery_state
move_one(
    struct delivery *delivery, enum stream stream, bool *waits, struct error *error)
{
	struct settling *settling = &delivery->streams[stream].settling;
	const struct settling_entry *entry = settling_look(settling, delivery_now_ns());

	*waits = entry == NULL;
	if (entry == NULL)
		return DELIVERY_MOVING;
	if (!delivery_is_sure(delivery))
		return delivery_connection_gone(delivery, error);
	switch (delivery_kept(delivery, stream, entry)) {
	case KEPT_LATER:
		*waits = true;
		return DELIVERY_MOVING;
	case KEPT_NO:
		if (!goes_on_without(delivery, stream, entry))
			return DELIVERY_MOVING;
		break;
	case KEPT_YES:
		delivery->asking.missed = 0;
		delivery->asking.careless = false;
		break;
	case KEPT_UNKNOWN:
		break;
	}
	const struct settling_mark mark = entry->mark;
	enum delivery_state state =
	    delivery_move_cursor(delivery, stream, &mark, error);
	if (state == DELIVERY_MOVING && settling->count > 0)
		settling_drop(settling);
	return state;
}

enum delivery_state
delivery_move_cursors(struct delivery *delivery, struct error *error)
{
	enum delivery_state state = DELIVERY_MOVING;

	for (enum stream i = 0; i < STREAM_COUNT && state == DELIVERY_MOVING; i++)
		for (bool waits = false; !waits && state == DELIVERY_MOVING;)
			state = move_one(delivery, i, &waits, error);
	return state;
}
