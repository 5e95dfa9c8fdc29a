/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/filed_setups.h"

#include <stdio.h>
#include <stdlib.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_read.h"

struct filed_setup_row {
	int64_t setup;
	struct settings *settings;
};

struct filed_setups {
	struct ledger_read *ledger;
	struct filed_setup_row *rows;
	size_t count;
};

struct filed_setups *
filed_setups_new(struct ledger_read *ledger)
{
	struct filed_setups *setups = calloc(1, sizeof *setups);

	if (setups)
		setups->ledger = ledger;
	return setups;
}

void
filed_setups_free(struct filed_setups *setups)
{
	for (size_t i = 0; setups && i < setups->count; i++)
		settings_free(setups->rows[i].settings);
	if (setups)
		free(setups->rows);
	free(setups);
}

static struct settings *
parse(const char *text, int64_t setup, struct error *error)
{
	struct problems *problems = calloc(1, sizeof *problems);
	struct settings *settings = NULL;
	char name[SETTINGS_NAME];

	snprintf(name, sizeof name, "set-up %lld", (long long)setup);
	if (!problems)
		error_set(error, ERROR_MEMORY, "out of memory");
	else if (!(settings = settings_parse(text, name, problems)))
		error_set(error, ERROR_INVALID,
		    "%s: it was valid once, this version cannot read it",
		    problems->list[0].text);
	free(problems);
	return settings;
}

static struct settings *
read_and_parse(struct filed_setups *setups, int64_t setup, struct error *error)
{
	char *text = ledger_read_setup(setups->ledger, setup, error);
	struct settings *settings = text ? parse(text, setup, error) : NULL;

	free(text);
	return settings;
}

const struct settings *
filed_setups_get(struct filed_setups *setups, int64_t setup, struct error *error)
{
	for (size_t i = 0; i < setups->count; i++)
		if (setups->rows[i].setup == setup)
			return setups->rows[i].settings;
	struct filed_setup_row *rows =
	    reallocarray(setups->rows, setups->count + 1, sizeof *rows);
	if (!rows) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	setups->rows = rows;
	struct settings *settings = read_and_parse(setups, setup, error);
	if (settings)
		rows[setups->count++] = (struct filed_setup_row){setup, settings};
	return settings;
}
