/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/notifier_inside.h"

#include <math.h>
#include <stdio.h>
#include <string.h>

#include "conf/program_file.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/notify/child.h"

/* --- how it is ------------------------------------------------------------------------ */

static void
set_status(struct notifier *notifier, int works, const char *text)
{
	struct notifier_status *status = &notifier->status;

	pthread_mutex_lock(&notifier->mutex);
	bool changed = status->works != works;
	int before = status->works;
	if (changed)
		status->since = clock_wall();
	status->works = works;
	text_copy(status->text, sizeof status->text, text);
	pthread_mutex_unlock(&notifier->mutex);
	if (changed && works == 0)
		log_error("%s", text);
	else if (before == 0 && works != 0)
		log_info("the program of [notify] can be run again");
}

void
notifier_hurry(struct notifier *notifier)
{
	if (notifier->again_s > 0)
		notifier->due_ns = notifier_now_ns();
	notifier->again_s = 0;
}

void
notifier_look_at_program(struct notifier *notifier)
{
	char text[sizeof notifier->status.text];
	struct error error = {0};
	bool unfit = program_file_judge(notifier->order.notify.program, true, &error) !=
	             PROGRAM_GOOD;

	if (unfit) {
		snprintf(text, sizeof text,
		    "the program of [notify] is not run, and nobody is told: %.300s",
		    error.text);
		set_status(notifier, 0, text);
	} else if (notifier->unfit) {
		set_status(notifier, -1, "");
		notifier_hurry(notifier);
	}
	notifier->unfit = unfit;
}

bool
notifier_is_old(void *arg, const struct ledger_event *event)
{
	const struct notifier *notifier = arg;
	struct mono mono;
	struct wall wall;

	clock_both(&mono, &wall);
	return age_is_old(&notifier->age, event, mono, wall);
}

/* --- telling ----------------------------------------------------------------------------- */

static void
fail(struct notifier *notifier, const char *why)
{
	char text[sizeof notifier->status.text];

	snprintf(text, sizeof text,
	    "'%.120s' %.180s; mend it: it is tried again, and what it has not told is "
	    "kept for a day",
	    notifier->order.notify.program, why);
	set_status(notifier, 0, text);
	pthread_mutex_lock(&notifier->mutex);
	notifier->status.failures++;
	pthread_mutex_unlock(&notifier->mutex);
}

static void
succeed(struct notifier *notifier)
{
	memset(notifier->message, 0, sizeof *notifier->message);
	notifier->again_s = 0;
	set_status(notifier, 1, "");
	pthread_mutex_lock(&notifier->mutex);
	notifier->status.told++;
	pthread_mutex_unlock(&notifier->mutex);
	events_settle(&notifier->events);
}

/* Later and later. */
static void
put_off(struct notifier *notifier)
{
	notifier->again_s = notifier->again_s > 0
	                        ? fmin(2 * notifier->again_s, NOTIFIER_LATEST_S)
	                        : notifier->pace.again_s;
	notifier->due_ns = notifier_after_s(notifier->again_s);
}

static void
run_program(struct notifier *notifier)
{
	const struct child_order order = {
	    .program = notifier->order.notify.program,
	    .environment = notifier->message->environment,
	    .input = notifier->message->input,
	    .timeout_s = notifier->order.notify.timeout_s,
	    .stop_fd = notifier->stop_fd,
	    .stop_s = NOTIFIER_STOP_S,
	};
	char words[CHILD_WORDS];

	message_write(notifier->message, notifier->order.site);
	notifier->begun_ns = notifier_now_ns();
	switch (child_run(&order, words)) {
	case CHILD_DONE:
		succeed(notifier);
		return;
	case CHILD_FAILED:
	case CHILD_LATE:
		fail(notifier, words);
		break;
	case CHILD_STOPPED:
		break;
	}
	put_off(notifier);
}

void
notifier_tell_due(struct notifier *notifier)
{
	if (message_drop_old(notifier->message, notifier_is_old, notifier)) {
		direct_forget(&notifier->direct);
		events_give_again(&notifier->events);
	}
	if (message_count(notifier->message) == 0 ||
	    notifier_now_ns() < notifier->due_ns || atomic_load(&notifier->stopping))
		return;
	if (!notifier->unfit)
		run_program(notifier);
	else
		put_off(notifier);
}
