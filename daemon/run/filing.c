/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/filing.h"

#include <assert.h>
#include <inttypes.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "conf/settings.h"
#include "daemon/base/allowance.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"
#include "daemon/run/asking.h"
#include "daemon/run/keeping.h"
#include "daemon/run/opening.h"
#include "daemon/run/waiting.h"
#include "daemon/run/writing.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

/* What may wait in memory, beside the shots; later ones are left out. */
enum { EVENTS_MAX = 1000, READINGS_MAX = 256, LOGGED_A_DAY = 30 };

struct filing {
	struct writing writing;
	struct opening opening;
	struct filing_hook hook;
	void *lent; /* by filing_start */
	struct asking asking;
	struct waiting waiting;
	struct keeping keeping;
	struct allowance logged_lost, logged_state;
	time_t retry_at;      /* system's monotonic seconds; 0: nothing was refused */
	pthread_mutex_t lock; /* guards status */
	struct filing_status status;
};

static time_t
system_seconds(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return now.tv_sec;
}

static void
count_up(struct filing *filing, int64_t *counter, int64_t more)
{
	pthread_mutex_lock(&filing->lock);
	*counter += more;
	pthread_mutex_unlock(&filing->lock);
}

/* A disk that is full for weeks fills no log: `what` is named as it is told last of a day. */
static bool
may_log(struct allowance *allowance, const char *what)
{
	struct mono now = clock_mono();
	enum allowance_answer answer;

	(void)allowance_untold(allowance, now); /* status tells how many */
	answer = allowance_take(allowance, now, LOGGED_A_DAY);
	if (answer == ALLOWANCE_LAST)
		log_error(
		    "%s are counted only from now on today: see 'evensoak status'",
		    what);
	return answer != ALLOWANCE_COUNT;
}

/* --- in ------------------------------------------------------------------------------- */

void
filing_put_shot(struct filing *filing, uint32_t line, struct shot *shot)
{
	struct pending *pending =
	    pending_new(WAITING_SHOT, line, shot->closed_at, NULL, 0);

	if (pending == NULL) {
		log_error("out of memory: shot %" PRId64 " is lost", shot->shot_no);
		count_up(filing, &filing->status.lost, 1);
		shot_free(shot);
		return;
	}
	pending->shot = shot;
	if (waiting_put(&filing->waiting, pending,
		(size_t)filing->writing.settings->memory_shots))
		return;
	if (may_log(&filing->logged_lost, "shots that are lost"))
		log_error("line '%s': shot %" PRId64 " is lost: %d shots wait for the "
			  "ledger already (setting 'memory_shots')",
		    filing->writing.settings->lines[line].name, shot->shot_no,
		    filing->writing.settings->memory_shots);
	count_up(filing, &filing->status.lost, 1);
	pending_free(pending);
}

/* Hangs it on, or gives it up and counts it. */
static void
put_soft(struct filing *filing, struct pending *pending, size_t bound, int64_t *lost)
{
	if (pending != NULL && waiting_put(&filing->waiting, pending, bound))
		return;
	count_up(filing, lost, 1);
	if (pending != NULL)
		pending_free(pending);
}

void
filing_put_event(struct filing *filing, uint32_t line, struct wall at, const char *kind,
    const char *text)
{
	struct pending *pending = pending_new(WAITING_EVENT, line, at, NULL, 0);

	if (pending != NULL) {
		text_copy(pending->word, sizeof(pending->word), kind);
		text_copy(pending->text, sizeof(pending->text), text);
	}
	put_soft(filing, pending, EVENTS_MAX, &filing->status.events_lost);
}

void
filing_put_standing(struct filing *filing, uint32_t line, struct wall at,
    const void *bytes, size_t byte_count)
{
	struct pending *pending =
	    pending_new(WAITING_STANDING, line, at, bytes, byte_count);

	if (pending != NULL)
		(void)waiting_put(&filing->waiting, pending, SIZE_MAX);
}

void
filing_put_reading(struct filing *filing, size_t store, uint32_t line, struct wall at,
    const void *bytes, size_t byte_count)
{
	const struct store_settings *to = &filing->writing.settings->stores[store];
	struct pending *pending =
	    pending_new(WAITING_READING, line, at, bytes, byte_count);

	if (pending != NULL) {
		text_copy(pending->destination, sizeof(pending->destination), to->name);
		pending->keep_ns = (int64_t)(to->reading_keep_s * 1e9);
	}
	put_soft(filing, pending, READINGS_MAX, &filing->status.readings_lost);
}

/* --- to the ledger ------------------------------------------------------------------ */

/* Remembers whether the ledger takes what it is given; says so when that changes. */
static void
note_writing(struct filing *filing, int writing, const char *text)
{
	bool changed;
	size_t waiting;

	filing->retry_at = writing ? 0 : system_seconds() + FILING_RETRY_S;
	waiting = waiting_count(&filing->waiting, WAITING_SHOT);
	pthread_mutex_lock(&filing->lock);
	changed = filing->status.writing != writing;
	if (changed) {
		filing->status.writing = writing;
		filing->status.since = clock_wall();
	}
	if (!writing)
		text_copy(filing->status.text, sizeof(filing->status.text), text);
	pthread_mutex_unlock(&filing->lock);
	if (!changed ||
	    !may_log(&filing->logged_state, "changes of the ledger's state"))
		return;
	if (writing)
		log_info(
		    "ledger '%s' takes shots again", filing->writing.settings->ledger);
	else
		log_error("%s; %zu shots wait in memory, up to %d are kept while "
			  "trying again",
		    text, waiting, filing->writing.settings->memory_shots);
}

static void
note_open(struct filing *filing, struct ledger *ledger)
{
	filing->writing.ledger = ledger;
	pthread_mutex_lock(&filing->lock);
	filing->status.open = ledger != NULL;
	pthread_mutex_unlock(&filing->lock);
}

/* Opens a ledger that could not be opened at the start.  The shots made meanwhile are
 * numbered on from its last ones; who stands where is told anew, with the new numbers. */
static int
open_late(struct filing *filing, struct error *error)
{
	int64_t last[SETTINGS_LINES] = {0};
	struct ledger *ledger =
	    opening_again(&filing->opening, filing->writing.settings, last, error);

	if (ledger == NULL)
		return ERROR_IO;
	note_open(filing, ledger);
	for (struct pending *p = waiting_first(&filing->waiting, WAITING_SHOT);
	     p != NULL; p = p->next)
		p->shot->shot_no += last[p->line];
	(void)waiting_clear(&filing->waiting, WAITING_STANDING);
	for (size_t i = 0; i < filing->writing.settings->line_count; i++)
		if (filing->hook.found != NULL)
			filing->hook.found(filing->hook.arg, (uint32_t)i, last[i]);
	return 0;
}

/* What has to be written is: false at the first that is refused. */
static bool
write_hard(struct filing *filing, struct error *error)
{
	for (int i = 0; i < WAITING_READING; i++) {
		enum waiting_kind kind = (enum waiting_kind)i;
		const struct pending *first;

		while ((first = waiting_first(&filing->waiting, kind)) != NULL) {
			if (writing_put(&filing->writing, first, error) != 0)
				return false;
			if (kind == WAITING_SHOT)
				count_up(filing, &filing->status.filed, 1);
			waiting_drop(&filing->waiting, kind);
		}
	}
	return true;
}

static void
drop_readings(struct filing *filing)
{
	size_t count = waiting_clear(&filing->waiting, WAITING_READING);

	if (count > 0)
		count_up(filing, &filing->status.readings_lost, (int64_t)count);
}

/* The first that is refused takes all others with it: each try may wait for long. */
static void
write_readings(struct filing *filing)
{
	const struct pending *first;
	struct error error;

	while ((first = waiting_first(&filing->waiting, WAITING_READING)) != NULL) {
		if (writing_put(&filing->writing, first, &error) != 0) {
			log_debug("%s", error.text);
			drop_readings(filing);
			return;
		}
		waiting_drop(&filing->waiting, WAITING_READING);
	}
}

static bool
nothing_waits(struct filing *filing)
{
	for (int i = 0; i < WAITING_KINDS; i++)
		if (waiting_first(&filing->waiting, (enum waiting_kind)i) != NULL)
			return false;
	return true;
}

static bool
write_all(struct filing *filing, bool insist)
{
	struct error error;

	if (!insist && filing->retry_at != 0 && system_seconds() < filing->retry_at)
		return false;
	if ((filing->writing.ledger == NULL && open_late(filing, &error) != 0) ||
	    !write_hard(filing, &error)) {
		note_writing(filing, 0, error.text);
		return false;
	}
	note_writing(filing, 1, "");
	return true;
}

bool
filing_write(struct filing *filing, bool insist)
{
	if (filing->writing.ledger != NULL && nothing_waits(filing))
		return true;
	if (write_all(filing, insist)) {
		write_readings(filing);
		return true;
	}
	drop_readings(filing);
	return false;
}

void
filing_adopt(struct filing *filing, const struct settings *settings)
{
	assert(waiting_count(&filing->waiting, WAITING_SHOT) == 0);
	filing->writing.settings = settings;
	filing->writing.set_up = false;
	keeping_again(&filing->keeping);
}

void
filing_tidy(struct filing *filing, struct wall now)
{
	if (filing->writing.ledger == NULL ||
	    waiting_count(&filing->waiting, WAITING_SHOT) > 0)
		return;
	keeping_go(&filing->keeping, filing->writing.ledger, filing->writing.settings,
	    clock_mono(), now);
}

/* --- as a whole --------------------------------------------------------------------- */

struct filing *
filing_open(const struct settings *settings, struct error *error)
{
	struct filing *filing = calloc(1, sizeof(*filing));

	if (filing == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	pthread_mutex_init(&filing->lock, NULL);
	waiting_init(&filing->waiting);
	filing->writing.settings = settings;
	filing->status.writing = 1;
	filing->status.since = clock_wall();
	note_open(filing, opening_first(&filing->opening, settings, error));
	if (filing->writing.ledger == NULL && !filing->opening.waits) {
		filing_free(filing);
		return NULL;
	}
	if (filing->writing.ledger == NULL)
		note_writing(filing, 0, error->text);
	return filing;
}

void
filing_free(struct filing *filing)
{
	size_t waiting;

	if (filing == NULL)
		return;
	waiting = waiting_count(&filing->waiting, WAITING_SHOT);
	if (waiting > 0)
		log_error("%zu shots are lost: %s", waiting, filing->status.text);
	waiting_release(&filing->waiting);
	ledger_close(filing->writing.ledger);
	pthread_mutex_destroy(&filing->lock);
	asking_release(&filing->asking);
	free(filing->lent);
	free(filing);
}

void
filing_set_hook(struct filing *filing, struct filing_hook hook)
{
	filing->hook = hook;
}

int
filing_set_hasty(struct filing *filing, bool hasty, struct error *error)
{
	return ledger_set_hasty(filing->writing.ledger, hasty, error);
}

int
filing_start(struct filing *filing, uint32_t line, struct tracker_start *start,
    struct error *error)
{
	const char *name = filing->writing.settings->lines[line].name;
	int rc;

	*start = (struct tracker_start){
	    .no_traces = filing->writing.settings->keep_traces_days == 0};
	free(filing->lent);
	filing->lent = NULL;
	if (filing->writing.ledger == NULL)
		return 0;
	rc = ledger_last_shot(filing->writing.ledger, name, &start->last_shot_no,
	    &start->last_closed_at, error);
	if (rc == 0)
		rc = ledger_in_flight(filing->writing.ledger, name, &filing->lent,
		    &start->saved_bytes, error);
	start->saved = filing->lent;
	return rc;
}

void
filing_circumstances(struct filing *filing, uint32_t line, int recipe, struct wall at,
    struct circumstances *circumstances)
{
	const struct ledger_question question = {
	    filing->writing.settings, line, recipe, at};

	asking_circumstances(
	    &filing->asking, filing->writing.ledger, &question, circumstances);
}

void
filing_status(struct filing *filing, struct filing_status *status)
{
	pthread_mutex_lock(&filing->lock);
	*status = filing->status;
	pthread_mutex_unlock(&filing->lock);
	status->waiting = waiting_count(&filing->waiting, WAITING_SHOT);
}
