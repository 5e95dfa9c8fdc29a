/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/opening.h"

#include <stddef.h>
#include <stdlib.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"

static int
last_shots(struct ledger *ledger, const struct settings *settings, int64_t *last,
    struct error *error)
{
	struct wall closed_at;
	int code = 0;

	for (size_t i = 0; i < settings->line_count && code == 0; i++)
		code = ledger_last_shot(
		    ledger, settings->lines[i].name, &last[i], &closed_at, error);
	return code;
}

/* Nothing is kept of it: a page of either may be damaged. */
static int
try_reading(struct ledger *ledger, const struct settings *settings, struct error *error)
{
	int64_t last[SETTINGS_LINES];
	int code = last_shots(ledger, settings, last, error);

	for (size_t i = 0; i < settings->line_count && code == 0; i++) {
		void *bytes = NULL;
		size_t count;
		code = ledger_in_flight(
		    ledger, settings->lines[i].name, &bytes, &count, error);
		free(bytes);
	}
	return code;
}

struct ledger *
opening_first(struct opening *opening, const struct settings *settings, int *code,
    struct error *error)
{
	opening->was_there = access(settings->ledger, F_OK) == 0;
	*code = 0;
	struct ledger *ledger = ledger_open(settings->ledger, code, error);
	if (ledger == NULL)
		return NULL;
	*code = try_reading(ledger, settings, error);
	if (*code == 0)
		return ledger;
	ledger_close(ledger);
	return NULL;
}

struct ledger *
opening_again(const struct opening *opening, const struct settings *settings,
    int64_t *last, struct error *error)
{
	if (opening->was_there && access(settings->ledger, F_OK) != 0) {
		error_set(error, ERROR_NOT_FOUND,
		    "ledger '%s' is gone; it is waited for until one is put there",
		    settings->ledger);
		return NULL;
	}
	struct ledger *ledger = ledger_open(settings->ledger, NULL, error);
	if (ledger == NULL || last_shots(ledger, settings, last, error) == 0)
		return ledger;
	ledger_close(ledger);
	return NULL;
}
