/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/filing.h"

#include <assert.h>
#include <inttypes.h>
#include <pthread.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger.h"
#include "daemon/run/asking.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/tracker.h"

enum {
	EVENTS_MAX = 1000, /* waiting in memory; later ones are left out */
};

#define TIDY_NS (3600 * CLOCK_SECOND_NS) /* old traces are looked for this often */
#define DAY_NS (86400 * CLOCK_SECOND_NS)

enum kind { KIND_SHOT, KIND_EVENT, KIND_STANDING };

/* What has still to be written. */
struct pending {
	struct pending *next;
	enum kind kind;
	uint32_t line;
	struct wall at;
	struct shot *shot;    /* of a shot */
	char word[32];        /* of an event */
	char text[256];       /* the same */
	unsigned char *bytes; /* who stands where */
	size_t byte_count;
};

struct filing {
	const struct settings *settings;
	struct ledger *ledger; /* NULL: not open yet */
	bool set_up;           /* the ledger knows these settings */
	struct filing_hook hook;
	void *lent; /* by filing_start */
	struct asking asking;
	struct pending *first, **last; /* last: where the next one is hung on */
	size_t events;                 /* among them */
	time_t retry_at;      /* system's monotonic seconds; 0: nothing was refused */
	struct wall tidied;   /* ns 0: old traces may be left */
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

/* --- what waits --------------------------------------------------------------------- */

/* Whether there is room for it: shots and events have a bound each, and of who stands
 * where there is one a line. */
static bool
count_in(struct filing *filing, enum kind kind)
{
	bool fits;

	if (kind == KIND_STANDING)
		return true;
	if (kind == KIND_EVENT) {
		fits = filing->events < EVENTS_MAX;
		filing->events += fits;
		return fits;
	}
	pthread_mutex_lock(&filing->lock);
	fits = filing->status.waiting < (size_t)filing->settings->memory_shots;
	filing->status.waiting += fits;
	filing->status.lost += !fits;
	pthread_mutex_unlock(&filing->lock);
	return fits;
}

static void
count_out(struct filing *filing, enum kind kind, bool written)
{
	filing->events -= kind == KIND_EVENT;
	if (kind != KIND_SHOT)
		return;
	pthread_mutex_lock(&filing->lock);
	filing->status.waiting--;
	filing->status.filed += written;
	pthread_mutex_unlock(&filing->lock);
}

static void
pending_free(struct pending *pending)
{
	shot_free(pending->shot);
	free(pending->bytes);
	free(pending);
}

/* `*link` is written, or of no use any more. */
static void
take_out(struct filing *filing, struct pending **link, bool written)
{
	struct pending *pending = *link;

	*link = pending->next;
	if (pending->next == NULL)
		filing->last = link;
	count_out(filing, pending->kind, written);
	pending_free(pending);
}

static void
hang_on(struct filing *filing, struct pending *pending)
{
	*filing->last = pending;
	filing->last = &pending->next;
}

/* Who stood where on a line, or on any if `line` is UINT32_MAX, is of no use any more. */
static void
drop_standing(struct filing *filing, uint32_t line)
{
	struct pending **link = &filing->first;

	while (*link != NULL) {
		const struct pending *p = *link;

		if (p->kind == KIND_STANDING && (line == UINT32_MAX || p->line == line))
			take_out(filing, link, false);
		else
			link = &(*link)->next;
	}
}

/* NULL when memory is short. */
static struct pending *
pending_new(enum kind kind, uint32_t line, struct wall at)
{
	struct pending *pending = calloc(1, sizeof(*pending));

	if (pending == NULL)
		return NULL;
	pending->kind = kind;
	pending->line = line;
	pending->at = at;
	return pending;
}

void
filing_put_shot(struct filing *filing, uint32_t line, struct shot *shot)
{
	struct pending *pending = pending_new(KIND_SHOT, line, shot->closed_at);

	if (pending == NULL) {
		log_error("out of memory: shot %" PRId64 " is lost", shot->shot_no);
		shot_free(shot);
		return;
	}
	pending->shot = shot;
	if (count_in(filing, pending->kind)) {
		hang_on(filing, pending);
		return;
	}
	log_error("line '%s': shot %" PRId64 " is lost: %d shots wait for the ledger "
		  "already (setting 'memory_shots')",
	    filing->settings->lines[line].name, shot->shot_no,
	    filing->settings->memory_shots);
	pending_free(pending);
}

void
filing_put_event(struct filing *filing, uint32_t line, struct wall at, const char *kind,
    const char *text)
{
	struct pending *pending = pending_new(KIND_EVENT, line, at);

	if (pending == NULL)
		return;
	text_copy(pending->word, sizeof(pending->word), kind);
	text_copy(pending->text, sizeof(pending->text), text);
	if (count_in(filing, pending->kind))
		hang_on(filing, pending);
	else
		pending_free(pending);
}

void
filing_put_standing(struct filing *filing, uint32_t line, struct wall at,
    const void *bytes, size_t byte_count)
{
	struct pending *pending = pending_new(KIND_STANDING, line, at);

	if (pending == NULL)
		return;
	pending->bytes = malloc(byte_count + 1);
	if (pending->bytes == NULL) {
		pending_free(pending);
		return;
	}
	memcpy(pending->bytes, bytes, byte_count);
	pending->byte_count = byte_count;
	drop_standing(filing, line);
	hang_on(filing, pending);
}

/* --- to the ledger ------------------------------------------------------------------ */

static int
write_one(struct filing *filing, const struct pending *pending, struct error *error)
{
	const struct settings *settings = filing->settings;
	const char *line = settings->lines[pending->line].name;
	int64_t setup;
	int rc;

	if (!filing->set_up) {
		rc = ledger_put_setup(
		    filing->ledger, settings, pending->at, &setup, error);
		if (rc != 0)
			return rc;
		filing->set_up = true;
	}
	switch (pending->kind) {
	case KIND_SHOT:
		return ledger_put_shot(filing->ledger, settings, pending->shot, error);
	case KIND_EVENT:
		return ledger_put_event(filing->ledger, line, pending->at,
		    pending->word, pending->text, error);
	case KIND_STANDING:
		return ledger_put_in_flight(filing->ledger, line, pending->bytes,
		    pending->byte_count, pending->at, error);
	}
	assert(!"a kind");
	return ERROR_INVALID;
}

/* Remembers whether the ledger takes what it is given; says so when that changes. */
static void
note_writing(struct filing *filing, int writing, const char *text)
{
	bool changed;
	size_t waiting;

	filing->retry_at = writing ? 0 : system_seconds() + FILING_RETRY_S;
	pthread_mutex_lock(&filing->lock);
	changed = filing->status.writing != writing;
	waiting = filing->status.waiting;
	if (changed) {
		filing->status.writing = writing;
		filing->status.since = clock_wall();
	}
	if (!writing)
		text_copy(filing->status.text, sizeof(filing->status.text), text);
	pthread_mutex_unlock(&filing->lock);
	if (changed && writing)
		log_info("ledger '%s' takes shots again", filing->settings->ledger);
	else if (changed)
		log_error("%s; %zu shots wait in memory, up to %d are kept while "
			  "trying again",
		    text, waiting, filing->settings->memory_shots);
}

static void
note_open(struct filing *filing, struct ledger *ledger)
{
	filing->ledger = ledger;
	pthread_mutex_lock(&filing->lock);
	filing->status.open = ledger != NULL;
	pthread_mutex_unlock(&filing->lock);
}

/* Opens a ledger that could not be opened at the start.  The shots made meanwhile are
 * numbered on from its last ones; who stands where is told anew, with the new numbers. */
static int
open_late(struct filing *filing, struct error *error)
{
	struct ledger *ledger = ledger_open(filing->settings->ledger, NULL, error);
	int64_t last[SETTINGS_LINES] = {0};
	struct wall closed_at;

	if (ledger == NULL)
		return ERROR_IO;
	for (size_t i = 0; i < filing->settings->line_count; i++)
		if (ledger_last_shot(ledger, filing->settings->lines[i].name, &last[i],
			&closed_at, error) != 0) {
			ledger_close(ledger);
			return ERROR_IO;
		}
	note_open(filing, ledger);
	for (struct pending *p = filing->first; p != NULL; p = p->next)
		if (p->kind == KIND_SHOT)
			p->shot->shot_no += last[p->line];
	drop_standing(filing, UINT32_MAX);
	for (size_t i = 0; i < filing->settings->line_count; i++)
		if (filing->hook.found != NULL)
			filing->hook.found(filing->hook.arg, (uint32_t)i, last[i]);
	return 0;
}

bool
filing_write(struct filing *filing, bool insist)
{
	struct error error;

	if (filing->ledger != NULL && filing->first == NULL)
		return true;
	if (!insist && filing->retry_at != 0 && system_seconds() < filing->retry_at)
		return false;
	if (filing->ledger == NULL && open_late(filing, &error) != 0) {
		note_writing(filing, 0, error.text);
		return false;
	}
	while (filing->first != NULL) {
		if (write_one(filing, filing->first, &error) != 0) {
			note_writing(filing, 0, error.text);
			return false;
		}
		take_out(filing, &filing->first, true);
	}
	note_writing(filing, 1, "");
	return true;
}

void
filing_adopt(struct filing *filing, const struct settings *settings)
{
	assert(filing->first == NULL);
	filing->settings = settings;
	filing->set_up = false;
	filing->tidied.ns = 0;
}

void
filing_tidy(struct filing *filing, struct wall now)
{
	int64_t since_ns = now.ns - filing->tidied.ns;
	int64_t keep_ns = filing->settings->keep_traces_days * DAY_NS;
	struct error error;
	bool more = false;

	if (filing->ledger == NULL || filing->first != NULL)
		return;
	if (since_ns >= 0 && since_ns < TIDY_NS)
		return;
	if (ledger_forget_traces(
		filing->ledger, (struct wall){now.ns - keep_ns}, &more, &error) != 0)
		log_warnx("cannot remove old traces: %s", error.text);
	if (!more)
		filing->tidied = now;
}

/* --- as a whole --------------------------------------------------------------------- */

struct filing *
filing_open(const struct settings *settings, struct error *error)
{
	struct filing *filing = calloc(1, sizeof(*filing));
	int code = 0;

	if (filing == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	pthread_mutex_init(&filing->lock, NULL);
	filing->last = &filing->first;
	filing->settings = settings;
	filing->status.writing = 1;
	filing->status.since = clock_wall();
	note_open(filing, ledger_open(settings->ledger, &code, error));
	if (filing->ledger == NULL && code != ERROR_FULL) {
		filing_free(filing);
		return NULL;
	}
	if (filing->ledger == NULL)
		note_writing(filing, 0, error->text);
	return filing;
}

void
filing_free(struct filing *filing)
{
	if (filing == NULL)
		return;
	if (filing->status.waiting > 0)
		log_error("%zu shots are lost: %s", filing->status.waiting,
		    filing->status.text);
	while (filing->first != NULL)
		take_out(filing, &filing->first, false);
	ledger_close(filing->ledger);
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
	return ledger_set_hasty(filing->ledger, hasty, error);
}

int
filing_start(struct filing *filing, uint32_t line, struct tracker_start *start,
    struct error *error)
{
	const char *name = filing->settings->lines[line].name;
	int rc;

	*start = (struct tracker_start){
	    .no_traces = filing->settings->keep_traces_days == 0};
	free(filing->lent);
	filing->lent = NULL;
	if (filing->ledger == NULL)
		return 0;
	rc = ledger_last_shot(
	    filing->ledger, name, &start->last_shot_no, &start->last_closed_at, error);
	if (rc == 0)
		rc = ledger_in_flight(
		    filing->ledger, name, &filing->lent, &start->saved_bytes, error);
	start->saved = filing->lent;
	return rc;
}

void
filing_circumstances(struct filing *filing, uint32_t line, int recipe, struct wall at,
    struct circumstances *circumstances)
{
	const struct ledger_question question = {filing->settings, line, recipe, at};

	asking_circumstances(&filing->asking, filing->ledger, &question, circumstances);
}

void
filing_status(struct filing *filing, struct filing_status *status)
{
	pthread_mutex_lock(&filing->lock);
	*status = filing->status;
	pthread_mutex_unlock(&filing->lock);
}
