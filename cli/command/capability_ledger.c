/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/capability_ledger.h"

#include <math.h>
#include <stdlib.h>

#include "cli/command/capability_lots.h"
#include "cli/command/capability_options.h"
#include "cli/command/capability_put.h"
#include "cli/command/capability_shots.h"
#include "cli/population/judgement.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { SOURCE = SPAN_TITLE + 4 * LEDGER_NAME, NAMES_SHOWN = 6 };

/* --- what is asked for -------------------------------------------------------------------- */

static enum command_exit
find_characteristic(const struct call *call, int *feature)
{
	const char *given = call->option[OPTION_CHARACTERISTIC];
	const char *names[FEATURE_COUNT];

	*feature = feature_find(given);
	if (*feature >= 0)
		return COMMAND_DONE;
	for (int i = 0; i < FEATURE_COUNT; i++)
		names[i] = feature_get(i)->name;
	const char *near = text_nearest(given, names, FEATURE_COUNT);
	return command_usage(call, "unknown characteristic '%s'%s%s%s", given,
	    near ? "; did you mean '" : ": 'evensoak report' names them",
	    near ? near : "", near ? "'?" : "");
}

/* More than one of a label: tells which, and how to choose. */
static bool
is_mixed(const struct call *call, const struct capability_labels *labels,
    const char *what, enum option_id option)
{
	char names[NAMES_SHOWN * (LEDGER_NAME + 32)];
	size_t at = 0;

	if (labels->count < 2)
		return false;
	for (size_t i = 0; i < labels->count && i < NAMES_SHOWN; i++)
		at += (size_t)snprintf(names + at, sizeof names - at,
		    "%s%s (%zu shot%s)", i > 0 ? ", " : "",
		    *labels->list[i] ? labels->list[i] : "an unknown one",
		    labels->shots[i], labels->shots[i] == 1 ? "" : "s");
	command_tell(call, "shots of %zu %ss are mixed: %s%s; choose one with --%s %s",
	    labels->count, what, names, labels->count > NAMES_SHOWN ? " ..." : "",
	    option_table[option].name, option_table[option].value);
	return true;
}

/* Limits of the set-up where the command line has none. */
static void
take_limits(struct study_asked *asked, const struct session *session,
    const struct capability_shots *shots)
{
	const struct limit_settings *limit =
	    settings_limit(session->settings, shots->feature,
		population_recipe(shots->recipes.list[0]), shots->tools.list[0]);

	if (limit && isnan(asked->lower) && isnan(asked->upper)) {
		judgement_limits(limit, shots->feature, &asked->lower, &asked->upper);
		if (isnan(asked->target))
			asked->target =
			    feature_from_si(shots->feature, limit->target_si);
	}
	if (judgement_bounded_at_zero(shots->feature) && isnan(asked->lower))
		asked->zero_bounded = true;
}

/* What is bounded at zero has no values below it: tells how many there are. */
static bool
is_below_zero(const struct call *call, const struct capability_shots *shots)
{
	size_t below = 0;

	for (size_t i = 0; i < shots->count; i++)
		below += shots->values[i] < 0;
	if (below > 0)
		fprintf(call->err,
		    "evensoak: '%s' is below zero in %zu shot%s, but --zero-bounded "
		    "says that cannot be\n",
		    feature_get(shots->feature)->name, below, below == 1 ? "" : "s");
	return below > 0;
}

/* --- the study ------------------------------------------------------------------------------- */

/* A value of the feature as people read it. */
static double
shown(const struct settings *settings, int feature, double value)
{
	enum dimension dimension = feature_get(feature)->dimension;

	return unit_from_si(unit_shown(dimension, settings->temperature), dimension,
	    feature_to_si(feature, value));
}

static void
name_source(const struct capability_shots *shots, const struct session *session,
    const struct span *span, char source[static SOURCE])
{
	const struct {
		const char *what, *name;
	} parts[] = {
	    {"recipe", shots->recipes.list[0]},
	    {"tool", shots->tools.list[0]},
	    {"lot", shots->lots.count == 1 ? shots->lots.list[0] : ""},
	};
	size_t at = (size_t)snprintf(source, SOURCE, "%s, %s", shots->line,
	    span->given ? span->title : session->path);

	for (size_t i = 0; i < 3 && at < SOURCE; i++)
		if (*parts[i].name)
			at += (size_t)snprintf(source + at, SOURCE - at, ", %s %s",
			    parts[i].what, parts[i].name);
}

static enum command_exit
study_shots(const struct call *call, const struct session *session,
    const struct span *span, struct capability_shots *shots)
{
	struct capability_options options;
	enum command_exit code = capability_options_read(&options, call);
	char source[SOURCE];

	if (code != COMMAND_DONE)
		return code;
	take_limits(&options.asked, session, shots);
	code = capability_options_check_limits(call, &options.asked);
	if (code != COMMAND_DONE)
		return code;
	if (options.asked.zero_bounded && is_below_zero(call, shots))
		return COMMAND_CANNOT;
	options.asked.series =
	    (struct series){shots->values, shots->breaks, shots->count};
	name_source(shots, session, span, source);
	double zero = shown(session->settings, shots->feature, 0);
	const struct capability_view view = {
	    .asked = &options.asked,
	    .title = feature_get(shots->feature)->name,
	    .source = source,
	    .noun = "shot",
	    .unit = shown_unit(session->settings, shots->feature),
	    .scale = shown(session->settings, shots->feature, 1) - zero,
	    .offset = zero,
	    .left_out = shots->left_out,
	};
	if (shots->lots.count > 1)
		return capability_lots_put(call, &view, shots);
	return capability_study_put(call, &view, &shots->progress);
}

static enum command_exit
read_and_study(const struct call *call, const struct session *session,
    const struct span *span, struct capability_shots *shots)
{
	struct error error;
	int trouble =
	    capability_shots_read(shots, session->ledger, span->from, span->to, &error);

	if (trouble != 0)
		return command_cannot(call, &error);
	if (shots->count == 0) {
		fprintf(call->err,
		    "evensoak: no complete shots of that kind on line '%s', %s\n",
		    shots->line, span->given ? span->title : session->path);
		return COMMAND_NO;
	}
	bool mixed = is_mixed(call, &shots->recipes, "recipe", OPTION_RECIPE);
	mixed = is_mixed(call, &shots->tools, "tool", OPTION_TOOL) || mixed;
	return mixed ? COMMAND_NO : study_shots(call, session, span, shots);
}

static enum command_exit
work(const struct call *call, const struct session *session)
{
	struct span span;
	struct capability_shots shots = {
	    .recipe = call->option[OPTION_RECIPE],
	    .tool = call->option[OPTION_TOOL],
	    .lot = call->option[OPTION_LOT],
	};
	int line;
	enum command_exit code = find_characteristic(call, &shots.feature);

	if (code == COMMAND_DONE)
		code = session_one_line(session, call, &line);
	if (code != COMMAND_DONE)
		return code;
	shots.line = session->settings->lines[line].name;
	code = span_read(&span, session, call, shots.line);
	if (code != COMMAND_DONE)
		return code;
	shots.progress = progress_start(call->err, PROGRESS_AFTER_S);
	code = read_and_study(call, session, &span, &shots);
	progress_end(shots.progress);
	capability_shots_release(&shots);
	return code;
}

enum command_exit
capability_ledger_run(const struct call *call)
{
	struct capability_options options;
	const option_set allowed = CAPABILITY_STUDY_OPTIONS | CAPABILITY_LEDGER_OPTIONS;
	enum command_exit code =
	    command_refuse_options(call, "--characteristic", allowed);

	/* what cannot be meant is told before a ledger is looked for */
	if (code == COMMAND_DONE)
		code = capability_options_read(&options, call);
	return code == COMMAND_DONE ? session_run(call, work) : code;
}
