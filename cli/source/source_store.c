/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Shots of a store: span by span, and what the ledger's order and filters ask for. */
#include "cli/source/source.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/source/source_inside.h"
#include "cli/source/store_ask.h"
#include "cli/source/store_walk.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum {
	FIRST_S = 6 * 3600, /* the first span that is asked for */
	LEAP_AFTER = 3,     /* empty spans; then it asks when the next shot was */
	DAY_S = 86400,
	HASH = 17,
};

struct source_store {
	struct source source;
	const struct settings *settings; /* lent */
	struct store_asked asked;
	char (*hashes)[HASH]; /* of set-ups: number n is at n - 1 */
	size_t hash_count;
};

static struct source_store *
of(struct source *source)
{
	return (struct source_store *)source;
}

static void
close_store(struct source *source)
{
	struct source_store *store = of(source);

	store_ask_close(&store->asked);
	free(store->hashes);
	free(store);
}

static struct store_question
question_of(const struct source_store *store, const char *line)
{
	bool labelled = store->asked.store->kind == STORE_VICTORIAMETRICS;

	return (struct store_question){
	    .site = store->settings->site,
	    .label = labelled ? store->asked.store->database : "",
	    .line = line,
	    .to_s = INT64_MAX / CLOCK_SECOND_NS,
	};
}

/* --- set-ups -------------------------------------------------------------------------- */

/* The number of a hash, a new one if need be; 0 for "". */
static int
number_setup(
    struct source_store *store, const char *hash, int64_t *number, struct error *error)
{
	*number = 0;
	if (*hash == '\0')
		return 0;
	for (size_t i = store->hash_count; i-- > 0 && *number == 0;)
		if (strcmp(store->hashes[i], hash) == 0)
			*number = (int64_t)i + 1;
	if (*number != 0)
		return 0;
	char(*hashes)[HASH] =
	    reallocarray(store->hashes, store->hash_count + 1, sizeof *hashes);
	if (hashes == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	store->hashes = hashes;
	text_copy(hashes[store->hash_count], HASH, hash);
	*number = (int64_t)++store->hash_count;
	return 0;
}

static int
read_setup_hash(
    struct source *source, int64_t setup, char hash[static HASH], struct error *error)
{
	const struct source_store *store = of(source);

	if (setup < 0 || (size_t)setup > store->hash_count)
		return error_set(error, ERROR_NOT_FOUND,
		    "%s has no set-up of number %lld", source->name, (long long)setup);
	text_copy(hash, HASH, setup == 0 ? "" : store->hashes[setup - 1]);
	return 0;
}

/* --- lines ------------------------------------------------------------------------------ */

static int
read_lines(struct source *source, int (*take)(void *arg, const char *line), void *arg,
    struct error *error)
{
	struct source_store *store = of(source);
	const struct store_question question = question_of(store, NULL);
	struct answered answered;

	answered_init(&answered);
	int code = store_ask(&store->asked, SUBJECT_LINES, &question, &answered, error);
	answered_sort(&answered);
	for (size_t i = 0; code == 0 && i < answered.line_count; i++)
		if (take(arg, answered.lines[i]) != 0)
			break;
	answered_release(&answered);
	return code;
}

/* --- through time ------------------------------------------------------------------------ */

/* What is read span by span, and where it goes. */
struct passage {
	struct source_store *store;
	const struct ledger_filter *filter;
	bool reasons;
	enum store_subject subject; /* shots or events: only that one's is called */
	int (*take_shot)(void *arg, const struct ledger_shot *shot);
	int (*take_event)(void *arg, const struct ledger_event *event);
	void *arg;
	int (*give)(
	    struct passage *passage, struct answered *answered, struct error *error);
	size_t given;
	bool enough;
};

/* Notes what was answered to one; whether that was enough. */
static bool
is_enough(struct passage *passage, int answer)
{
	size_t limit = passage->filter->limit;

	passage->given++;
	passage->enough = answer != 0 || (limit != 0 && passage->given >= limit);
	return passage->enough;
}

/* Spans are of whole seconds; times are not. */
static bool
is_within(const struct ledger_filter *filter, struct wall at)
{
	return (filter->from.ns == 0 || at.ns >= filter->from.ns) &&
	       (filter->to.ns == 0 || at.ns < filter->to.ns);
}

static int
give_shots(struct passage *passage, struct answered *answered, struct error *error)
{
	const struct ledger_filter *filter = passage->filter;
	const struct harvest *harvest = &answered->harvest;

	harvest_finish(&answered->harvest);
	for (size_t i = 0; i < harvest->count; i++) {
		struct harvest_row *row =
		    harvest->rows[filter->newest_first ? harvest->count - 1 - i : i];
		if (!is_within(filter, row->shot.filed_at) ||
		    (filter->shot_no != 0 && row->shot.shot_no != filter->shot_no))
			continue;
		int code =
		    number_setup(passage->store, row->set_up, &row->shot.setup, error);
		if (code != 0)
			return code;
		if (is_enough(passage, passage->take_shot(passage->arg, &row->shot)))
			break;
	}
	return 0;
}

static int
give_events(struct passage *passage, struct answered *answered, struct error *error)
{
	const struct ledger_filter *filter = passage->filter;

	(void)error;
	answered_sort(answered);
	for (size_t i = 0; i < answered->event_count; i++) {
		size_t at = filter->newest_first ? answered->event_count - 1 - i : i;
		const struct ledger_event *event = &answered->events[at].event;
		if (is_within(filter, event->at) &&
		    is_enough(passage, passage->take_event(passage->arg, event)))
			break;
	}
	return 0;
}

static struct store_question
span_question(const struct passage *passage, const struct store_span *span)
{
	const struct ledger_filter *filter = passage->filter;
	struct store_question question = question_of(passage->store, filter->line);

	question.from_s = span->from_s;
	question.to_s = span->to_s;
	question.shot_no = filter->shot_no;
	question.features = filter->features;
	question.feature_count = filter->feature_count;
	question.values_only = filter->values_only;
	question.reasons = passage->reasons;
	return question;
}

static int
ask_span(struct passage *passage, const struct store_span *span,
    struct answered *answered, struct error *error)
{
	struct store_asked *asked = &passage->store->asked;
	const struct store_question question = span_question(passage, span);
	int code = store_ask(asked, passage->subject, &question, answered, error);

	if (code == 0 && passage->reasons && answered->harvest.count > 0)
		code = store_ask(asked, SUBJECT_ABSENCES, &question, answered, error);
	return code;
}

/* Over a time without shots, to where the next one is.  Of the last day that is not known
 * for sure. */
static int
leap(struct passage *passage, struct store_walk *walk, struct error *error)
{
	const struct store_span left = {walk->low_s, walk->high_s};
	struct store_question question = span_question(passage, &left);
	struct answered answered;

	if (passage->subject != SUBJECT_SHOTS || left.from_s >= left.to_s)
		return 0;
	question.first = !walk->back;
	question.now_s = clock_wall().ns / CLOCK_SECOND_NS;
	answered_init(&answered);
	int code = store_ask(
	    &passage->store->asked, SUBJECT_EDGE, &question, &answered, error);
	int64_t edge_s = answered.edge_s, sure_s = question.now_s - DAY_S;
	if (edge_s == 0 && walk->back)
		edge_s = -1;
	else if (edge_s == 0) /* no store takes what is two days ahead */
		edge_s = left.from_s < sure_s + 3 * DAY_S ? sure_s : left.to_s;
	if (walk->back && left.to_s > sure_s && edge_s < sure_s)
		edge_s = sure_s;
	if (code == 0)
		store_walk_leap(walk, edge_s, FIRST_S);
	answered_release(&answered);
	return code;
}

/* Whether a span has more than can be taken at once: known before it is read, as a store
 * may go on with an answer that nobody reads. */
static int
weigh(struct passage *passage, const struct store_span *span, bool *too_much,
    struct error *error)
{
	struct store_question question = span_question(passage, span);
	struct answered answered;

	*too_much = false;
	if (passage->subject != SUBJECT_SHOTS || question.shot_no != 0)
		return 0;
	question.now_s = clock_wall().ns / CLOCK_SECOND_NS;
	answered_init(&answered);
	int code = store_ask(
	    &passage->store->asked, SUBJECT_AMOUNT, &question, &answered, error);
	*too_much = answered.amount > HARVEST_MOST;
	answered_release(&answered);
	return code;
}

/* Reads one span and gives what is in it. */
static int
pass(struct passage *passage, const struct store_span *span, size_t *count,
    struct error *error)
{
	struct answered answered;
	bool too_much;
	int code = weigh(passage, span, &too_much, error);

	*count = 0;
	if (code == 0 && too_much)
		return error_set(
		    error, ERROR_FULL, "there are too many shots in a second");
	answered_init(&answered);
	if (code == 0)
		code = ask_span(passage, span, &answered, error);
	*count = answered.harvest.count + answered.event_count;
	passage->store->source.twice += code == 0 ? answered.twice : 0;
	if (code == 0)
		code = passage->give(passage, &answered, error);
	answered_release(&answered);
	return code;
}

static int
go(struct passage *passage, struct error *error)
{
	const struct ledger_filter *filter = passage->filter;
	struct store_walk walk;
	struct store_span span;
	size_t count, empty = 0;

	if (filter->after_change != 0)
		return error_set(error, ERROR_INVALID,
		    "%s knows no change numbers: only a ledger does",
		    passage->store->source.name);
	store_walk_init(&walk, filter->from, filter->to, filter->newest_first, FIRST_S);
	store_walk_start_back(&walk, clock_wall());
	while (!passage->enough && store_walk_next(&walk, &span)) {
		int code = pass(passage, &span, &count, error);
		if (code == ERROR_FULL && store_walk_shorten(&walk, &span))
			continue;
		if (code != 0)
			return code;
		store_walk_pass(&walk, &span, count, HARVEST_MOST);
		empty = count == 0 ? empty + 1 : 0;
		if (empty < LEAP_AFTER)
			continue;
		empty = 0;
		if ((code = leap(passage, &walk, error)) != 0)
			return code;
	}
	return 0;
}

static int
read_shots(struct source *source, const struct ledger_filter *filter, bool reasons,
    int (*take)(void *arg, const struct ledger_shot *shot), void *arg,
    struct error *error)
{
	struct passage passage = {.store = of(source),
	    .filter = filter,
	    .reasons = reasons,
	    .subject = SUBJECT_SHOTS,
	    .take_shot = take,
	    .arg = arg,
	    .give = give_shots};

	return go(&passage, error);
}

static int
read_events(struct source *source, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *event), void *arg,
    struct error *error)
{
	struct passage passage = {.store = of(source),
	    .filter = filter,
	    .subject = SUBJECT_EVENTS,
	    .take_event = take,
	    .arg = arg,
	    .give = give_events};

	return go(&passage, error);
}

static int
read_shifts(struct source *source, const struct ledger_filter *filter,
    int (*take)(void *arg, const struct ledger_event *shift), void *arg,
    struct error *error)
{
	struct passage passage = {.store = of(source),
	    .filter = filter,
	    .subject = SUBJECT_SHIFTS,
	    .take_event = take,
	    .arg = arg,
	    .give = give_events};

	return go(&passage, error);
}

static int
read_channels(struct source *source, const struct ledger_shot *shot,
    int (*take)(void *arg, const struct ledger_channel *channel), void *arg,
    struct error *error)
{
	struct source_store *store = of(source);
	struct store_question question = question_of(store, shot->line);
	struct answered answered;

	question.point_ns = store_point_ns(shot);
	question.revision = shot->revision;
	answered_init(&answered);
	answered.point_ns = question.point_ns;
	int code =
	    store_ask(&store->asked, SUBJECT_CHANNELS, &question, &answered, error);
	answered_sort(&answered);
	for (size_t i = 0; code == 0 && i < answered.channel_count; i++)
		/* of one that is absent there may be the coverage */
		if (!isnan(answered.channels[i].mean) &&
		    take(arg, &answered.channels[i]) != 0)
			break;
	answered_release(&answered);
	return code;
}

static const struct source_ops store_ops = {
    .close = close_store,
    .lines = read_lines,
    .shots = read_shots,
    .events = read_events,
    .shifts = read_shifts,
    .channels = read_channels,
    .setup_hash = read_setup_hash,
};

struct source *
source_of_store(const struct settings *settings, size_t index, struct error *error)
{
	const struct store_settings *traits = &settings->stores[index];
	struct source_store *store = calloc(1, sizeof *store);

	if (store == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	store->source.ops = &store_ops;
	store->settings = settings;
	snprintf(
	    store->source.name, sizeof store->source.name, "store %s", traits->name);
	if (store_ask_open(&store->asked, traits, error) != 0) {
		close_store(&store->source);
		return NULL;
	}
	return &store->source;
}
