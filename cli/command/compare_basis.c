/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/compare_basis.h"

#include <inttypes.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/compare_basis_inside.h"
#include "cli/population/sensors.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

void
compare_setups_add(struct compare_setups *setups, int64_t setup)
{
	for (size_t i = 0; i < setups->count; i++)
		if (setups->list[i] == setup)
			return;
	if (setups->count == COMPARE_SETUPS)
		setups->more = true;
	else
		setups->list[setups->count++] = setup;
}

/* --- what there is ---------------------------------------------------------------------- */

static int
take_setup(void *arg, const struct ledger_setup *setup)
{
	struct compare_basis *basis = arg;
	struct ledger_setup *setups =
	    reallocarray(basis->setups, basis->setup_count + 1, sizeof *setups);

	if (!setups) {
		basis->failed = true;
		return 1;
	}
	basis->setups = setups;
	setups[basis->setup_count++] = *setup;
	return 0;
}

static int
take_definition(void *arg, const struct ledger_definition *definition)
{
	struct compare_basis *basis = arg;
	struct ledger_definition *definitions = reallocarray(
	    basis->definitions, basis->definition_count + 1, sizeof *definitions);

	if (!definitions) {
		basis->failed = true;
		return 1;
	}
	basis->definitions = definitions;
	definitions[basis->definition_count++] = *definition;
	return 0;
}

static int
fill(struct compare_basis *basis, struct error *error)
{
	const struct compare_basis_asked *asked = &basis->asked;
	const struct session *session = asked->session;
	const struct calibrate_span span = {.from = asked->reference->to,
	    .known = asked->reference->frozen,
	    .to = asked->last};
	int code = ledger_read_setups(session->ledger, take_setup, basis, error);

	if (code == 0)
		code = ledger_read_definitions(
		    session->ledger, take_definition, basis, error);
	if (code == 0 && basis->failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	if (code == 0)
		code = calibrate_changes(session->settings, asked->line,
		    session->ledger, &span, basis->calibrated, error);
	return code;
}

struct compare_basis *
compare_basis_new(const struct compare_basis_asked *asked, struct error *error)
{
	struct compare_basis *basis = calloc(1, sizeof *basis);

	if (basis) {
		basis->asked = *asked;
		basis->filed = filed_setups_new(asked->session->ledger);
		basis->calibrated = calloc(asked->session->settings->channel_count + 1,
		    sizeof *basis->calibrated);
	}
	if (!basis || !basis->filed || !basis->calibrated)
		error_set(error, ERROR_MEMORY, "out of memory");
	else if (fill(basis, error) == 0)
		return basis;
	compare_basis_free(basis);
	return NULL;
}

void
compare_basis_free(struct compare_basis *basis)
{
	if (!basis)
		return;
	filed_setups_free(basis->filed);
	free(basis->setups);
	free(basis->definitions);
	free(basis->calibrated);
	free(basis);
}

void
compare_basis_date(struct wall at, char date[static DATE])
{
	char text[CALENDAR_TEXT];

	calendar_local_text(at, text);
	text_copy(date, DATE, text);
}

/* --- definitions ------------------------------------------------------------------------- */

/* Which holds under a set-up; NULL: none is known. */
static const struct ledger_definition *
definition_of(const struct compare_basis *basis, int feature, int64_t setup)
{
	const struct ledger_definition *newest = NULL;

	for (size_t i = 0; i < basis->definition_count; i++) {
		const struct ledger_definition *one = &basis->definitions[i];
		if (one->feature == feature && one->setup <= setup &&
		    (!newest || one->version > newest->version))
			newest = one;
	}
	return newest;
}

static bool
tell_definition(
    const struct compare_basis *basis, int feature, char reason[static COMPARE_REASON])
{
	const struct compare_setups *setups = basis->asked.setups;
	const struct ledger_definition *then =
	    definition_of(basis, feature, basis->asked.reference->setup);

	for (size_t i = 0; then && i < setups->count; i++) {
		const struct ledger_definition *now =
		    definition_of(basis, feature, setups->list[i]);
		char date[DATE];
		if (!now || now->version == then->version)
			continue;
		compare_basis_date(now->since, date);
		snprintf(reason, COMPARE_REASON,
		    "its definition is another since %s: version %d then, version %d "
		    "now",
		    date, then->version, now->version);
		return true;
	}
	return false;
}

/* --- sensors ------------------------------------------------------------------------------- */

/* The line of a set-up on file; line -1: it has none of that name.  settings NULL with the
 * reason in `trouble`. */
static struct sensors_of
sensors_of(struct compare_basis *basis, int64_t setup, struct error *trouble)
{
	const struct settings *settings =
	    filed_setups_get(basis->filed, setup, trouble);
	const struct kind *kind = &basis->asked.reference->kind;

	return (struct sensors_of){settings,
	    settings ? settings_find_line(settings, kind->line) : -1, kind->side};
}

static bool
is_same(const struct sensors_of *then, const struct sensors_of *now, int feature,
    char words[static SENSORS_WORDS])
{
	if (now->line >= 0)
		return sensors_same(then, now, feature, words);
	snprintf(words, SENSORS_WORDS, "the set-up had no such line");
	return false;
}

/* From when on it was as it is in `setup`; ns 0: cannot be told. */
static struct wall
since(struct compare_basis *basis, const struct sensors_of *then, int64_t setup,
    int feature)
{
	struct wall at = {0};

	for (size_t i = 0; i < basis->setup_count && basis->setups[i].id <= setup;
	     i++) {
		const struct ledger_setup *one = &basis->setups[i];
		char words[SENSORS_WORDS];
		struct error trouble;
		if (one->id <= basis->asked.reference->setup)
			continue;
		const struct sensors_of now = sensors_of(basis, one->id, &trouble);
		if (!now.settings || is_same(then, &now, feature, words))
			at.ns = 0;
		else if (at.ns == 0)
			at = one->filed;
	}
	return at;
}

static void
tell_unreadable(const struct error *trouble, char reason[static COMPARE_REASON])
{
	snprintf(reason, COMPARE_REASON,
	    "what it was measured by cannot be told: %.400s", trouble->text);
}

static bool
tell_sensors(
    struct compare_basis *basis, int feature, char reason[static COMPARE_REASON])
{
	const struct compare_setups *setups = basis->asked.setups;
	struct error trouble;
	const struct sensors_of then =
	    sensors_of(basis, basis->asked.reference->setup, &trouble);

	if (!then.settings || then.line < 0) {
		if (then.settings)
			error_set(&trouble, ERROR_NOT_FOUND, "the set-up has no line");
		tell_unreadable(&trouble, reason);
		return true;
	}
	for (size_t i = 0; i < setups->count; i++) {
		const struct sensors_of now =
		    sensors_of(basis, setups->list[i], &trouble);
		char words[SENSORS_WORDS], date[DATE];
		if (!now.settings) {
			tell_unreadable(&trouble, reason);
			return true;
		}
		if (is_same(&then, &now, feature, words))
			continue;
		struct wall at = since(basis, &then, setups->list[i], feature);
		compare_basis_date(at, date);
		snprintf(reason, COMPARE_REASON, "%s%s%s", words,
		    at.ns != 0 ? ", since " : "", at.ns != 0 ? date : "");
		return true;
	}
	return false;
}

/* --- all ------------------------------------------------------------------------------------------ */

int
compare_basis_reason(struct compare_basis *basis, int feature,
    char reason[static COMPARE_REASON], struct error *error)
{
	reason[0] = '\0';
	if (basis->asked.reference->setup == 0) {
		snprintf(reason, COMPARE_REASON,
		    "the run does not say under which set-up it was made: freeze a "
		    "newer one");
		return 0;
	}
	if (basis->asked.setups->more)
		return error_set(error, ERROR_MEMORY,
		    "the shots were made under more than %d set-ups: say a shorter "
		    "time",
		    COMPARE_SETUPS);
	if (!tell_definition(basis, feature, reason) &&
	    !tell_sensors(basis, feature, reason) &&
	    !compare_basis_calibrations(basis, feature, reason))
		compare_basis_properties(basis, feature, reason);
	return 0;
}
