/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/publisher_log.h"

#include "daemon/base/error.h"
#include "daemon/base/log.h"

enum { LOGGED_A_DAY = 30 };

void
publisher_log_init(struct publisher_log *log, const char *name)
{
	*log = (struct publisher_log){.name = name, .logged = DELIVERY_MOVING};
}

/* A store that comes and goes for weeks fills no log. */
static bool
may_log(struct publisher_log *log)
{
	switch (allowance_take(&log->day, clock_mono(), LOGGED_A_DAY)) {
	case ALLOWANCE_TELL:
		return true;
	case ALLOWANCE_LAST:
		log_warnx(
		    "store '%s': comes and goes; what more comes today is counted "
		    "only, 'evensoak status' tells how it is",
		    log->name);
		return true;
	case ALLOWANCE_COUNT:
		break;
	}
	return false;
}

/* What was only counted, once its day is over. */
static void
log_counted(struct publisher_log *log)
{
	int64_t count = allowance_untold(&log->day, clock_mono());

	if (count > 0)
		log_warnx(
		    "store '%s': came and went; %lld more lines of the day before "
		    "were only counted",
		    log->name, (long long)count);
}

/* A trouble that was not logged since all was well last: one that comes and goes is logged
 * once. */
static bool
is_news(
    const struct publisher_log *log, enum delivery_state state, enum trouble trouble)
{
	return state != DELIVERY_MOVING && trouble != TROUBLE_NONE &&
	       (log->troubles_logged & 1U << trouble) == 0;
}

static void
note_logged(struct publisher_log *log, enum delivery_state state, enum trouble trouble)
{
	log->logged = state;
	if (state == DELIVERY_MOVING)
		log->troubles_logged = 0;
	else
		log->troubles_logged |= 1U << trouble;
}

static void
say_state(const struct publisher_log *log, enum delivery_state state, const char *text)
{
	if (state == DELIVERY_MOVING)
		log_info("store '%s': delivering again after %.1f min", log->name,
		    (double)(clock_mono().ns - log->failing_since.ns) / 60 /
			(double)CLOCK_SECOND_NS);
	else if (state == DELIVERY_CLOSED)
		log_error("store '%s': cannot deliver until somebody puts this right; "
			  "no shot is lost: %s",
		    log->name, text);
	else if (state == DELIVERY_TROUBLE)
		log_error("store '%s': does not have everything; the ledger keeps its "
			  "shots: %s",
		    log->name, text);
	else
		log_warnx("store '%s': cannot deliver for now; no shot is lost: %s",
		    log->name, text);
}

static void
log_state(struct publisher_log *log, enum delivery_state state,
    const struct delivery_counts *counts, const struct error *error)
{
	const char *text = error->text;

	if (state == DELIVERY_DONE || state == DELIVERY_MOVING) {
		text = counts->standing;
		state = *text ? DELIVERY_TROUBLE : DELIVERY_MOVING;
	}
	if (state == log->logged && !is_news(log, state, counts->trouble))
		return;
	if (may_log(log))
		say_state(log, state, text);
	if (log->logged == DELIVERY_MOVING)
		log->failing_since = clock_mono();
	note_logged(log, state, counts->trouble);
}

/* One line when lines are set aside, until a batch went through whole. */
static void
log_refusals(struct publisher_log *log, const struct delivery_counts *counts)
{
	if (counts->batches == log->batches_seen)
		return;
	bool refusing = counts->refused > log->refused_seen;
	if (refusing && !log->refusing && may_log(log))
		log_error(
		    "store '%s': refuses lines, now set aside in the ledger; the last "
		    "of %lld: %s",
		    log->name, (long long)(counts->refused - log->refused_seen),
		    counts->refusal);
	log->refusing = refusing;
	log->batches_seen = counts->batches;
	log->refused_seen = counts->refused;
}

/* What it was asked about that it had taken. */
static void
log_kept(struct publisher_log *log, const struct delivery_counts *counts)
{
	bool unasked = counts->unasked[0] != '\0';

	if (counts->missed > log->missed_seen && may_log(log))
		log_warnx("store '%s': does not have what it took; was it started "
			  "again? It is sent once more",
		    log->name);
	log->missed_seen = counts->missed;
	if (unasked && !log->unasked && may_log(log))
		log_warnx("store '%s': cannot be asked whether it has what it takes, "
			  "its connections are trusted: %s",
		    log->name, counts->unasked);
	log->unasked = unasked;
}

void
publisher_log_step(struct publisher_log *log, enum delivery_state state,
    const struct delivery_counts *counts, const struct error *error)
{
	log_counted(log);
	log_state(log, state, counts, error);
	log_refusals(log, counts);
	log_kept(log, counts);
}

void
publisher_log_telling(struct publisher_log *log, int code, const struct error *error)
{
	if (code > 0 && log->untold && may_log(log))
		log_info(
		    "store '%s': takes the counts of the devices again", log->name);
	if (code == ERROR_REFUSED && !log->untold && may_log(log))
		log_warnx("store '%s': does not take the counts of the devices; shots "
			  "are not concerned: %s",
		    log->name, error->text);
	if (code > 0 || code == ERROR_REFUSED)
		log->untold = code < 0;
}
