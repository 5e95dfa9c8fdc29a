/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Since when the shifts have the hours that they have now. */
#include "cli/command/close_shifts.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/calendar.h"
#include "daemon/base/error.h"

/* Set-ups that came into force since a time, and the last one before. */
struct setups {
	struct ledger_setup *list;
	size_t count;
	struct wall from;
	bool failed;
};

static int
take_setup(void *arg, const struct ledger_setup *setup)
{
	struct setups *setups = arg;

	if (setup->filed.ns <= setups->from.ns)
		setups->count = 0;
	struct ledger_setup *list =
	    reallocarray(setups->list, setups->count + 1, sizeof *list);
	if (!list) {
		setups->failed = true;
		return 1;
	}
	setups->list = list;
	list[setups->count++] = *setup;
	return 0;
}

static bool
are_same_dates(const struct calendar_dates *a, const struct calendar_dates *b)
{
	if (a->count != b->count)
		return false;
	for (size_t i = 0; i < (size_t)a->count; i++)
		if (!calendar_date_same(a->list[i], b->list[i]))
			return false;
	return true;
}

/* Where one has no shifts, none of its can be meant. */
static bool
are_same_hours(const struct settings *a, const struct settings *b)
{
	bool same = a->shift_count == b->shift_count && strcmp(a->zone, b->zone) == 0;

	for (size_t i = 0; same && i < a->shift_count; i++) {
		const struct shift_settings *x = &a->shifts[i], *y = &b->shifts[i];
		same = strcmp(x->name, y->name) == 0 &&
		       x->start_minute == y->start_minute &&
		       x->end_minute == y->end_minute && x->days == y->days &&
		       are_same_dates(&x->dates, &y->dates);
	}
	return same || a->shift_count == 0 || b->shift_count == 0;
}

/* Whether that set-up's are those of now; so too where this version cannot read it. */
static int
look_at(bool *same, const struct session *session, int64_t setup,
    struct problems *problems, struct error *error)
{
	char *text = ledger_read_setup(session->ledger, setup, error);

	if (!text)
		return ERROR_IO;
	struct settings *old = settings_parse(text, session->path, problems);
	*same = !old || are_same_hours(old, session->settings);
	settings_free(old);
	free(text);
	return 0;
}

int
close_hours_since(struct wall *since, const struct session *session, struct wall from,
    struct error *error)
{
	struct setups setups = {.from = from};
	struct problems *problems = calloc(1, sizeof *problems);
	int code = ledger_read_setups(session->ledger, take_setup, &setups, error);
	bool same = true;

	*since = (struct wall){0};
	if (code == 0 && (setups.failed || !problems))
		code = error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = setups.count; code == 0 && same && i > 1; i--) {
		code = look_at(&same, session, setups.list[i - 2].id, problems, error);
		if (code == 0 && !same)
			*since = setups.list[i - 1].filed;
	}
	free(problems);
	free(setups.list);
	return code;
}
