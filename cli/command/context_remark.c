/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/context_remark.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/population/population.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

void
context_remark_unknown(const struct call *call, const struct settings *settings,
    enum context_key key, const char *value)
{
	const char *names[64];
	const char *near;
	size_t count = 0;
	int64_t number;

	if (key == CONTEXT_RECIPE && text_integer(value, &number) &&
	    number <= INT32_MAX && !settings_recipe(settings, (int)number))
		fprintf(
		    call->err, "evensoak: note: the set-up has no recipe %s\n", value);
	if (key != CONTEXT_TOOL || !*value)
		return;
	for (size_t i = 0; i < settings->tool_count; i++) {
		if (strcmp(settings->tools[i].name, value) == 0)
			return;
		if (count < COUNT(names))
			names[count++] = settings->tools[i].name;
	}
	near = text_nearest(value, names, count);
	fprintf(call->err, "evensoak: note: the set-up has no tool '%s'%s%s%s\n", value,
	    near ? "; did you mean '" : "", near ? near : "", near ? "'?" : "");
}

/* --- a recipe that the machine tells too ------------------------------------------ */

/* A recipe entered, and the shots that have another: only a reading of the machine keeps
 * theirs. */
struct rivals {
	const struct ledger_entry *entry;
	struct wall to; /* where the next entry takes over; ns 0: open */
	int64_t shots;
};

static int
take_next(void *arg, const struct ledger_context *next)
{
	struct rivals *rivals = arg;
	bool later = next->from.ns > rivals->entry->from.ns;

	if (strcmp(next->key, context_key_text(CONTEXT_RECIPE)) == 0 && later &&
	    (rivals->to.ns == 0 || next->from.ns < rivals->to.ns))
		rivals->to = next->from;
	return 0;
}

static int
take_rival(void *arg, const struct ledger_shot *shot)
{
	struct rivals *rivals = arg;

	rivals->shots += *shot->recipe && population_recipe(shot->recipe) !=
	                                      population_recipe(rivals->entry->value);
	return 0;
}

void
context_remark_rivals(const struct call *call, const struct session *session,
    const struct ledger_entry *entry)
{
	static const int none;
	struct rivals rivals = {.entry = entry};
	struct error error;

	if (entry->key != CONTEXT_RECIPE ||
	    ledger_read_context(
		session->ledger, entry->line, take_next, &rivals, &error) != 0)
		return;
	const struct ledger_filter filter = {
	    .line = entry->line,
	    .from = entry->from,
	    .to = rivals.to,
	    .by_time = true,
	    .features = &none,
	};
	if (ledger_read_shots(
		session->ledger, &filter, false, take_rival, &rivals, &error) == 0 &&
	    rivals.shots > 0)
		fprintf(call->err,
		    "evensoak: note: %" PRId64 " shots since then keep another recipe: "
		    "it was read from the machine, whose reading wins\n",
		    rivals.shots);
}

/* --- figures that rest on the label --------------------------------------------------- */

struct before {
	const struct ledger_entry *entry;
	struct earlier_label *earlier;
};

static int
take_before(void *arg, const struct ledger_context *there)
{
	const struct before *before = arg;

	if (strcmp(there->key, context_key_text(before->entry->key)) == 0 &&
	    there->from.ns <= before->entry->from.ns) /* by time: the last holds */
		text_copy(before->earlier->value, sizeof before->earlier->value,
		    there->value);
	return 0;
}

void
context_remark_earlier_label(const struct session *session,
    const struct ledger_entry *entry, struct earlier_label *earlier)
{
	struct before before = {entry, earlier};
	struct error error;

	*earlier->value = '\0';
	ledger_read_context(session->ledger, entry->line, take_before, &before, &error);
}

static bool
bears_on_figures(
    const struct settings *settings, enum context_key key, const char *value)
{
	if (key == CONTEXT_RECIPE) {
		const struct recipe_settings *recipe =
		    settings_recipe(settings, population_recipe(value));
		return recipe && (!isnan(recipe->thickness_m) || *recipe->material);
	}
	for (size_t i = 0; key == CONTEXT_TOOL && i < settings->tool_count; i++)
		if (strcmp(settings->tools[i].name, value) == 0)
			return !isnan(settings->tools[i].bore_m);
	return false;
}

void
context_remark_recompute(const struct call *call, const struct settings *settings,
    const struct ledger_entry *entry, const struct earlier_label *earlier,
    int64_t relabelled)
{
	if (relabelled == 0 ||
	    (!bears_on_figures(settings, entry->key, entry->value) &&
		!bears_on_figures(settings, entry->key, earlier->value)))
		return;
	fprintf(call->err,
	    "evensoak: note: shots on file that have another %s now: %" PRId64
	    "; 'evensoak recompute' makes those whose readings are kept again with "
	    "what the set-up says of it\n",
	    context_key_text(entry->key), relabelled);
}
