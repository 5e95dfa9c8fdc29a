/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/reference_check.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>
#include <strings.h>

#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { TOLD = 3 };

/* --- the run itself ------------------------------------------------------------------- */

static void
tell(const struct found *found, const char *against,
    char remark[static REFERENCE_REMARK])
{
	size_t used = (size_t)snprintf(remark, REFERENCE_REMARK,
	    "look before you rely on it: held against %s, these shots are not alike:",
	    against);

	for (size_t i = 0; i < found->count && i < TOLD && used < REFERENCE_REMARK;
	     i++) {
		char cause[40], subject[FOUND_SUBJECT];
		const struct finding *finding = &found->list[i];
		shown_words(finding_cause_text(finding->cause), cause, sizeof cause);
		found_subject(finding, found->kind.side, subject);
		used += (size_t)snprintf(remark + used, REFERENCE_REMARK - used,
		    "%s %s%s%s from shot %" PRId64, i ? "," : "", cause,
		    *subject ? " " : "", subject, finding->first_shot);
	}
	if (used < REFERENCE_REMARK && found->in_all > TOLD)
		snprintf(remark + used, REFERENCE_REMARK - used, "; and %zu more",
		    found->in_all - TOLD);
}

static int
judge_halves(struct found *found, const struct session *session, int line,
    struct found_series *series, struct error *error)
{
	size_t half = series->count / 2;
	const struct findings_run run = {
	    series->shots + half, series->count - half, 0, series->count};

	if (half < PROFILE_SHOTS_MIN)
		return 0;
	found_series_join(series);
	struct profile *profile =
	    profile_new(&session->settings->lines[line], series->shots, half, error);
	if (!profile)
		return ERROR_MEMORY;
	found->in_all = findings_judge(profile, &run, found->list, FOUND_MOST);
	profile_free(profile);
	if (found->in_all == FINDINGS_NO_MEMORY)
		return found_series_too_many(error);
	found->count = found->in_all < FOUND_MOST ? found->in_all : FOUND_MOST;
	return 0;
}

int
reference_check(const struct session *session, int line, struct found_series *series,
    char remark[static REFERENCE_REMARK], struct error *error)
{
	struct found *found = calloc(1, sizeof *found);
	char against[LEDGER_NAME + 16] = "their first half";

	remark[0] = '\0';
	if (!found)
		return found_series_too_many(error);
	found->kind = series->kind;
	found->shots = series->count;
	int code =
	    reference_newest(&found->reference, session->ledger, &series->kind, error);
	if (code == 0 && found->reference.id != 0) {
		snprintf(
		    against, sizeof against, "reference %s", found->reference.name);
		code = found_judge(found, session, line, series, error);
	} else if (code == 0) {
		code = judge_halves(found, session, line, series, error);
	}
	if (code == 0 && found->count > 0)
		tell(found, against, remark);
	free(found);
	return code;
}

/* --- its name --------------------------------------------------------------------------- */

struct alike {
	const char *name;
	char other[LEDGER_NAME];
};

static int
take_name(void *arg, const struct ledger_reference *reference)
{
	struct alike *alike = arg;

	if (strcasecmp(alike->name, reference->name) != 0 ||
	    strcmp(alike->name, reference->name) == 0)
		return 0;
	snprintf(alike->other, sizeof alike->other, "%s", reference->name);
	return 1;
}

static bool
is_printable(const char *name)
{
	for (const char *at = name; *at; at++)
		if ((unsigned char)*at < ' ' || *at == 127)
			return false;
	return *name && *name != ' ' && name[strlen(name) - 1] != ' ';
}

enum command_exit
reference_check_name(const struct call *call, const struct session *session)
{
	struct alike alike = {.name = call->argument[1]};
	struct error error;

	if (!is_printable(alike.name))
		return command_usage(call,
		    "a reference run's name is of printable characters, without blanks "
		    "at its ends");
	if (strlen(alike.name) >= LEDGER_NAME)
		return command_usage(call,
		    "a reference run's name has at most %d bytes", LEDGER_NAME - 1);
	if (ledger_read_references(session->ledger, take_name, &alike, &error) != 0)
		return command_cannot(call, &error);
	if (*alike.other)
		return command_usage(call,
		    "there is a reference run '%s': '%s' differs from it in capitals "
		    "alone and would be taken for it",
		    alike.other, alike.name);
	return COMMAND_DONE;
}

enum command_exit
reference_check_side(const struct call *call, const struct line_settings *line)
{
	const char *side = call->option[OPTION_SIDE];
	const char *names[SETTINGS_SIDES];

	if (!side)
		return COMMAND_DONE;
	if (line->side_count < 2)
		return command_usage(call, "line '%s' has no sides", line->name);
	for (int i = 0; i < line->side_count; i++) {
		names[i] = line->sides[i];
		if (strcmp(side, names[i]) == 0)
			return COMMAND_DONE;
	}
	const char *near = text_nearest(side, names, (size_t)line->side_count);
	return command_usage(call, "line '%s' has no side '%s', it has %s and %s%s%s%s",
	    line->name, side, names[0], names[1], near ? "; did you mean '" : "",
	    near ? near : "", near ? "'?" : "");
}
