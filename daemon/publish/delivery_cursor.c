/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <math.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/publish/delivery_inside.h"

enum { BROKEN_OFTEN = 3 }; /* connections, and no cursor moved: it is a habit */

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
	return fmax(0, (double)(due_ns - delivery_now_ns()) * 1e-9);
}

/* --- what holds no longer ---------------------------------------------------------- */

static void
forget_batches(struct delivery *delivery)
{
	batch_clear(&delivery->batch);
	batch_clear(&delivery->next);
	delivery->body.length = delivery->next_body.length = 0;
	delivery->takes = false;
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
	return delivery->batch.first > 0 || delivery_due_s(delivery) < INFINITY;
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

enum delivery_state
delivery_move_cursors(struct delivery *delivery, struct error *error)
{
	enum delivery_state state = DELIVERY_MOVING;
	int64_t now_ns = delivery_now_ns();

	for (enum stream i = 0; i < STREAM_COUNT && state == DELIVERY_MOVING; i++) {
		struct settling *settling = &delivery->streams[i].settling;
		struct settling_mark mark;
		if (!settling_look(settling, now_ns, &mark))
			continue;
		if (!delivery_is_sure(delivery))
			return delivery_connection_gone(delivery, error);
		state = delivery_move_cursor(delivery, i, &mark, error);
		if (state == DELIVERY_MOVING)
			settling_drop(settling, now_ns);
	}
	return state;
}
