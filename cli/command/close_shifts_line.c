/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The shifts of one line: which are due, and their filing. */
#include "cli/command/close_shifts.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/shift_figures.h"
#include "conf/shift.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define MINUTE_NS (60 * CLOCK_SECOND_NS)
#define DAY_NS (86400 * CLOCK_SECOND_NS)

const char *
close_done_text(enum close_done done)
{
	static const char *const texts[CLOSE_DONE_COUNT] = {"closed", "revised", "same",
	    "not_logged", "forgotten", "other_hours", "not_yet"};

	return texts[done];
}

/* --- what is on file ----------------------------------------------------------------------- */

struct held {
	struct close_span span;
	struct wall closed;
	double shots;
};

struct helds {
	struct held *list;
	size_t count;
	bool failed;
};

static int
take_held(void *arg, const struct ledger_shift *shift)
{
	struct helds *helds = arg;

	if ((helds->count & (helds->count - 1)) == 0) {
		size_t room = helds->count ? 2 * helds->count : 1;
		struct held *list = reallocarray(helds->list, room, sizeof *list);
		if (!list) {
			helds->failed = true;
			return 1;
		}
		helds->list = list;
	}
	struct held *held = &helds->list[helds->count++];
	*held = (struct held){
	    .span = {.from = shift->from, .to = shift->to},
	    .closed = shift->closed,
	    .shots = shift->sum[LEDGER_SHIFT_SHOTS],
	};
	text_copy(held->span.shift, sizeof held->span.shift, shift->shift);
	return 0;
}

static int
read_held(struct helds *helds, const struct closing *closing,
    const struct ledger_shift_filter *filter, struct error *error)
{
	*helds = (struct helds){.count = 0};
	int code = ledger_read_shifts(
	    closing->session->ledger, filter, take_held, helds, error);
	return code == 0 && helds->failed
	           ? error_set(error, ERROR_MEMORY, "out of memory")
	           : code;
}

/* The one on file that overlaps; `*same` when it is the same shift.  NULL: none. */
static const struct held *
find_held(const struct helds *helds, const struct close_span *span, bool *same)
{
	for (size_t i = 0; i < helds->count; i++) {
		const struct close_span *held = &helds->list[i].span;
		if (held->to.ns <= span->from.ns || held->from.ns >= span->to.ns)
			continue;
		*same = held->from.ns == span->from.ns &&
		        strcmp(held->shift, span->shift) == 0;
		return &helds->list[i];
	}
	return NULL;
}

/* --- one shift ------------------------------------------------------------------------------- */

static void
tell(const struct closing *closing, int line, const struct close_span *span,
    enum close_done done, const struct ledger_shift *shift)
{
	struct close_told told = {
	    .line = closing->session->settings->lines[line].name,
	    .span = span,
	    .done = done,
	};

	if (shift)
		told.shift = *shift;
	else
		for (int i = 0; i < LEDGER_SHIFT_SUMS; i++)
			told.shift.sum[i] = NAN;
	closing->tell(closing->arg, &told);
}

static int
file(const struct closing *closing, int line, const struct close_span *span,
    const struct ledger_shift *shift, struct error *error)
{
	static const enum close_done done[] = {
	    [LEDGER_SHIFT_SAME] = CLOSE_SAME,
	    [LEDGER_SHIFT_NEW] = CLOSE_NEW,
	    [LEDGER_SHIFT_REVISED] = CLOSE_REVISED,
	};
	enum ledger_shift_filed filed;
	int code =
	    ledger_put_shift(closing->ledger, shift, closing->dry, &filed, error);

	if (code == 0)
		tell(closing, line, span, done[filed], shift);
	return code;
}

/* Whether there is nothing to tell of it: no shot, and nobody who would have seen one. */
static bool
is_nothing(const struct ledger_shift *shift)
{
	const double *sum = shift->sum;

	return !(sum[LEDGER_SHIFT_SHOTS] > 0) &&
	       !(sum[LEDGER_SHIFT_GAP_S] < sum[LEDGER_SHIFT_LENGTH_S]);
}

/* Whether it is not filed, and why. */
static bool
is_left(const struct closing *closing, const struct held *held,
    const struct ledger_shift *shift, enum close_done *why)
{
	int days = closing->session->settings->keep_shots_days;
	int64_t kept_ns = days > 0 ? closing->now.ns - days * DAY_NS : 0;

	/* what is left of a new one is not all that it had */
	bool forgotten = held ? shift->sum[LEDGER_SHIFT_SHOTS] < held->shots
	                      : shift->from.ns < kept_ns && !is_nothing(shift);

	if (forgotten)
		*why = CLOSE_FORGOTTEN;
	else if (is_nothing(shift))
		*why = CLOSE_NOT_LOGGED;
	else if (!held && shift->to.ns <= closing->hours_since.ns)
		*why = CLOSE_OTHER_HOURS;
	else
		return false;
	return true;
}

/* `held` is what is on file of it; NULL: nothing. */
static int
close_one(struct closing *closing, int line, const struct close_span *span,
    const struct held *held, struct error *error)
{
	const struct session *session = closing->session;
	const char *name = session->settings->lines[line].name;
	struct shift_figures figures;
	struct ledger_shift *shift = &figures.shift;
	enum close_done why;
	bool recent = !held && span->to.ns > closing->now.ns - DAY_NS;
	int code = shift_figures_make(&figures, session->settings, session->source,
	    &(struct shift_figures_asked){name, span->shift, span->from, span->to},
	    error);

	shift->closed = closing->now;
	if (code == 0)
		code = close_gap_read(
		    &shift->sum[LEDGER_SHIFT_GAP_S], session, name, span, error);
	if (code == 0 && is_left(closing, held, shift, &why))
		tell(closing, line, span, why, NULL);
	else if (code == 0) {
		code = close_found(closing, line, span, recent,
		    &shift->sum[LEDGER_SHIFT_FINDINGS], error);
		if (code == 0)
			code = file(closing, line, span, shift, error);
	}
	shift_figures_release(&figures);
	return code;
}

/* --- which ------------------------------------------------------------------------------------- */

static int
close_by_hours(struct closing *closing, int line, const struct helds *helds,
    const struct close_span *span, struct error *error)
{
	bool same = false;
	const struct held *held = find_held(helds, span, &same);

	if (span->to.ns + CLOSE_GRACE_MINUTES * MINUTE_NS > closing->now.ns) {
		tell(closing, line, span, CLOSE_NOT_YET, NULL);
		return 0;
	}
	if (held && !closing->again)
		return 0;
	if (held && !same) {
		tell(closing, line, span, CLOSE_OTHER_HOURS, NULL);
		return 0;
	}
	return close_one(closing, line, span, held, error);
}

/* From where on shifts are looked at that nobody asked about: as far back as always, and
 * further, where the last run was longer ago. */
static struct wall
usual_from(const struct closing *closing, const struct helds *all)
{
	struct wall from = {closing->now.ns - CLOSE_BACK_DAYS * DAY_NS}, last = {0};

	for (size_t i = 0; i < all->count; i++)
		if (all->list[i].span.to.ns > last.ns)
			last = all->list[i].span.to;
	return last.ns != 0 && last.ns < from.ns ? last : from;
}

static int
close_due(struct closing *closing, int line, struct error *error)
{
	const struct settings *settings = closing->session->settings;
	struct helds helds;
	struct close_spans spans = {.count = 0};
	int code = read_held(&helds, closing,
	    &(struct ledger_shift_filter){.line = settings->lines[line].name}, error);
	struct wall from = closing->again ? closing->from : usual_from(closing, &helds);
	struct wall to = closing->again ? closing->to : closing->now;

	closing->hours_since = (struct wall){0};
	if (code == 0 && !closing->again)
		code = close_hours_since(
		    &closing->hours_since, closing->session, from, error);
	if (code == 0)
		code = close_spans_find(&spans, settings, from, to, error);
	for (size_t i = 0; i < spans.count && code == 0; i++)
		code = close_by_hours(closing, line, &helds, &spans.list[i], error);
	free(spans.list);
	free(helds.list);
	return code;
}

/* What is found in the shift that runs. */
static int
look_at_running(struct closing *closing, int line, struct error *error)
{
	struct shift_span shift;
	struct close_span span;
	double count;

	if (!shift_at(closing->session->settings, closing->now, &shift))
		return 0;
	span = (struct close_span){.from = shift.from, .to = shift.to};
	text_copy(span.shift, sizeof span.shift, shift.shift->name);
	return close_found(closing, line, &span, true, &count, error);
}

int
close_shifts_of_line(struct closing *closing, int line, struct error *error)
{
	int code = close_due(closing, line, error);

	if (code == 0 && !closing->again)
		code = look_at_running(closing, line, error);
	return code;
}

int
close_shifts_corrected(
    struct closing *closing, int line, int64_t after, int64_t to, struct error *error)
{
	struct helds helds;
	int code = read_held(&helds, closing,
	    &(struct ledger_shift_filter){
		.line = closing->session->settings->lines[line].name,
		.with_later = after,
		.with_to = to},
	    error);

	for (size_t i = 0; helds.list && i < helds.count && code == 0; i++) {
		const struct held *held = &helds.list[i];
		/* one of this run is of the shots as they are */
		if (held->closed.ns != closing->now.ns)
			code = close_one(closing, line, &held->span, held, error);
	}
	free(helds.list);
	return code;
}
