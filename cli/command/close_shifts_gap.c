/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * When nobody logged a line, by the events with which a logger begins and ends.  One that
 * was killed says no end: then it is taken to have lived until the last that is on file of
 * it, so that the gap is at most as long as is told.
 */
#include "cli/command/close_shifts.h"

#include <math.h>
#include <string.h>

struct gap {
	struct ledger_read *ledger;
	const char *line;
	struct wall from, to;
	bool known, on;   /* a beginning or end was seen; it logs */
	bool unsure;      /* of a part of it nobody knows */
	struct wall sign; /* the last of it that is on file; since then it is off */
	int64_t off_ns;
	int code;
	struct error *error;
};

/* Nobody logged between these two. */
static void
add_off(struct gap *gap, struct wall from, struct wall to)
{
	int64_t first = from.ns > gap->from.ns ? from.ns : gap->from.ns;
	int64_t last = to.ns < gap->to.ns ? to.ns : gap->to.ns;

	if (last > first)
		gap->off_ns += last - first;
}

static int
take_shot_sign(void *arg, const struct ledger_shot *shot)
{
	struct gap *gap = arg;

	if (shot->filed_at.ns > gap->sign.ns)
		gap->sign = shot->filed_at;
	return 1;
}

/* The last shot before `at` (ns 0: of all), if it is later than the last event. */
static int
find_sign(struct gap *gap, struct wall at)
{
	static const int no_features[1];
	const struct ledger_filter filter = {.line = gap->line,
	    .to = at,
	    .newest_first = true,
	    .limit = 1,
	    .features = no_features,
	    .values_only = true};

	return ledger_read_shots(
	    gap->ledger, &filter, false, take_shot_sign, gap, gap->error);
}

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct gap *gap = arg;
	bool start = strcmp(event->kind, "start") == 0;
	bool end = strcmp(event->kind, "end") == 0;

	/* It was off, or it was killed.  Before the first that is on file there was none, or
	 * where there are shots of then nobody knows. */
	if (start) {
		if (gap->on || !gap->known)
			gap->code = find_sign(gap, event->at);
		gap->unsure |= !gap->known && gap->sign.ns != 0;
		add_off(gap, gap->sign, event->at);
	}
	if (start || end) {
		gap->on = start;
		gap->known = true;
	}
	/* What others file is no sign of it. */
	if (strcmp(event->kind, "finding") != 0)
		gap->sign = event->at;
	return gap->code != 0 || (start && event->at.ns >= gap->to.ns);
}

static int
take_earlier(void *arg, const struct ledger_event *event)
{
	struct gap *gap = arg;
	bool start = strcmp(event->kind, "start") == 0;
	bool end = strcmp(event->kind, "end") == 0;

	if (gap->sign.ns == 0 && strcmp(event->kind, "finding") != 0)
		gap->sign = event->at;
	if (!start && !end)
		return 0;
	gap->on = start;
	gap->known = true;
	return 1;
}

/* Where the event of its beginning is no longer on file, the daemon itself tells of it. */
static void
look_at_logger(struct gap *gap)
{
	struct ledger_logger logger;

	if (gap->known || ledger_read_logger(gap->ledger, &logger, NULL) != 0 ||
	    logger.started.ns > gap->from.ns)
		return;
	gap->known = true;
	gap->on = true;
	if (logger.started.ns > gap->sign.ns)
		gap->sign = logger.started;
}

/* Whoever is said to log has told of itself a moment ago, or is gone.  No beginning follows:
 * it has lived until its last shot, also where that is of a later shift. */
static int
look_at_end(struct gap *gap)
{
	struct ledger_summary summary;
	struct ledger_logger logger;

	if (!gap->known)
		return 0;
	if (!gap->on) {
		add_off(gap, gap->sign, gap->to);
		return 0;
	}
	int code = ledger_read_summary(gap->ledger, &summary, gap->error);
	if (code != 0 || summary.daemon_running)
		return code;
	code = find_sign(gap, (struct wall){0});
	if (ledger_read_logger(gap->ledger, &logger, NULL) == 0 &&
	    logger.at.ns > gap->sign.ns)
		gap->sign = logger.at;
	add_off(gap, gap->sign, gap->to);
	return code;
}

int
close_gap_read(double *gap_s, const struct session *session, const char *line,
    const struct close_span *span, struct error *error)
{
	struct gap gap = {.ledger = session->ledger,
	    .line = line,
	    .from = span->from,
	    .to = span->to,
	    .error = error};
	const struct ledger_filter before = {
	    .line = line, .to = span->from, .newest_first = true};
	const struct ledger_filter since = {
	    .line = line, .from = span->from, .by_time = true};
	int code = ledger_read_events(gap.ledger, &before, take_earlier, &gap, error);

	look_at_logger(&gap);
	if (code == 0)
		code = ledger_read_events(gap.ledger, &since, take_event, &gap, error);
	if (code == 0)
		code = gap.code;
	if (code == 0)
		code = look_at_end(&gap);
	*gap_s = gap.known && !gap.unsure ? (double)gap.off_ns / (double)CLOCK_SECOND_NS
	                                  : NAN;
	return code;
}
