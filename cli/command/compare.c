/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/characteristic.h"
#include "cli/command/compare_found.h"
#include "cli/command/compare_kind.h"
#include "cli/command/number_option.h"
#include "cli/command/progress.h"
#include "cli/command/span.h"
#include "cli/report/report_compare.h"
#include "cli/wording/shown.h"
#include "daemon/base/calendar.h"
#include "daemon/base/error.h"

enum { KINDS = 32 };

struct comparing {
	const struct call *call;
	const struct session *session;
	struct compare_kind_asked asked;
	struct span span;
	struct compare_kind kinds[KINDS]; /* in the order of their first shots */
	size_t count;
	bool more, failed;
	struct found_all found; /* what report says against the same references */
	struct page *page;
	bool all_same; /* something was compared, and all of it is the same */
};

/* --- reading --------------------------------------------------------------------------------- */

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct comparing *comparing = arg;
	const char *lot = comparing->call->option[OPTION_LOT];
	const struct kind own = kind_of(shot);
	size_t i = 0;

	if (shot->outcome != SHOT_COMPLETE || (lot && strcmp(lot, shot->lot) != 0) ||
	    !kind_is_chosen(comparing->call, &own))
		return 0;
	while (i < comparing->count && !kind_same(&comparing->kinds[i].kind, &own))
		i++;
	if (i == KINDS) {
		comparing->more = true;
		return 0;
	}
	struct compare_kind *kind = &comparing->kinds[i];
	if (i == comparing->count) {
		comparing->count++;
		kind->kind = own;
		kind->series.kind = own;
	}
	compare_setups_add(&kind->setups, shot->setup);
	compare_set_points_add(&kind->set_points, shot);
	comparing->failed = !found_series_add_shot(&kind->series, shot);
	return comparing->failed;
}

static int
read_and_judge(struct comparing *comparing, struct error *error)
{
	const struct session *session = comparing->session;
	const struct ledger_filter filter = {
	    .line = session->settings->lines[comparing->asked.line].name,
	    .from = comparing->span.from,
	    .to = comparing->span.to,
	    .by_time = true,
	};
	int code = ledger_read_shots(
	    session->ledger, &filter, false, take_shot, comparing, error);

	if (code == 0 && comparing->failed)
		code = found_series_too_many(error);
	for (size_t i = 0; i < comparing->count && code == 0; i++)
		code =
		    compare_kind_judge(&comparing->kinds[i], &comparing->asked, error);
	const struct found_asked asked = {comparing->asked.line, comparing->span.from,
	    comparing->span.to, comparing->asked.reference};
	if (code == 0 && comparing->count > 0)
		code = found_read_span(&comparing->found, session, &asked, error);
	return code;
}

/* --- the page ------------------------------------------------------------------------------------ */

static void
put_head(const struct comparing *comparing, const struct compare_kind *kind)
{
	const struct reference_known *known = &kind->reference;
	struct page *page = comparing->page;
	char from[CALENDAR_TEXT], words[CALENDAR_TEXT + LEDGER_NAME + 80];

	page_field(page, "line", NULL, cell_words(kind->kind.line));
	page_field(page, "side", NULL, shown_name(kind->kind.side));
	page_field(page, "recipe", NULL, shown_name(kind->kind.recipe));
	page_field(page, "tool", NULL, shown_name(kind->kind.tool));
	page_field(page, "shots", "shots now", cell_count((int64_t)kind->series.count));
	page_field(page, "own_shots", kind->own > 0 ? "left out" : NULL,
	    cell_count((int64_t)kind->own));
	if (kind->own > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "left out: shots of this time that are the reference's own");
	if (known->id == 0)
		return;
	calendar_local_text(known->from, from);
	snprintf(words, sizeof words, "%s, %lld shots from %s on", known->name,
	    (long long)known->shots, from);
	page_field(page, NULL, "against", cell_words(words));
	page_field(page, "reference", NULL, cell_words(known->name));
	page_field(page, "reference_from", NULL, cell_time(known->from));
	page_field(page, "reference_to", NULL, cell_time(known->to));
	page_field(page, "reference_shots", NULL, cell_count(known->shots));
}

static void
put_kind(struct comparing *comparing, const struct compare_kind *kind)
{
	const struct report_compare report = {
	    .settings = comparing->session->settings,
	    .line = kind->kind.line,
	    .side = kind->kind.side,
	    .recipe = kind->kind.recipe,
	    .tool = kind->kind.tool,
	    .list = kind->list,
	    .count = kind->count,
	    .refused = kind->refused,
	    .refused_count = kind->refused_count,
	    .set_points = kind->set_point_list,
	    .set_point_count = kind->set_point_count,
	    .set_points_words = kind->set_point_words,
	    .number = (size_t)(kind - comparing->kinds),
	};
	const struct report_compare_counts counts = report_compare_count(&report);
	struct page *page = comparing->page;
	char words[KIND_TEXT], heading[KIND_TEXT + SPAN_TITLE + LEDGER_NAME + 8];

	kind_words(&kind->kind, words);
	snprintf(heading, sizeof heading, "%s, %s: %s", kind->kind.line, words,
	    comparing->span.title);
	page_open(page, GROUP_ITEM, NULL, heading);
	if (*kind->trouble)
		page_note(page, "trouble", TONE_PLAIN, "%s", kind->trouble);
	else
		report_compare_put_answer(page, &report);
	compare_found_put(page, &comparing->found, &kind->kind);
	put_head(comparing, kind);
	page_field(page, "changed_count", NULL, cell_count((int64_t)counts.changed));
	page_field(page, "same", NULL, cell_count((int64_t)counts.same));
	page_field(page, "different", NULL, cell_count((int64_t)counts.different));
	page_field(page, "open_count", NULL, cell_count((int64_t)counts.open));
	page_field(page, "refused_count", NULL, cell_count((int64_t)counts.refused));
	report_compare_put_picture(page, &report);
	report_compare_put(page, &report);
	page_close(page);
	comparing->all_same &=
	    counts.same > 0 && counts.different + counts.open + counts.changed == 0;
}

static void
put_all(struct comparing *comparing)
{
	struct page *page = comparing->page;

	page_field(page, "version", NULL, cell_words(EVENSOAK_VERSION));
	page_field(page, "site", NULL, cell_words(comparing->session->settings->site));
	page_field(page, "title", NULL, cell_words(comparing->span.title));
	page_field(page, "from", NULL, cell_time(comparing->span.from));
	page_field(page, "to", NULL, cell_time(comparing->span.to));
	page_open(page, GROUP_LIST, "kinds", NULL);
	for (size_t i = 0; i < comparing->count; i++)
		put_kind(comparing, &comparing->kinds[i]);
	page_close(page);
	if (comparing->more)
		page_note(page, "more", TONE_BAD,
		    "there are shots of more than %d kinds: choose by --recipe, --tool",
		    KINDS);
	if (comparing->count == 0)
		page_note(page, NULL, TONE_PLAIN,
		    "%s: no complete shots of what was asked for; 'evensoak shots' "
		    "lists what there is",
		    comparing->span.title);
	else
		report_compare_put_remarks(page);
}

static enum command_exit
write_comparison(struct comparing *comparing)
{
	const struct call *call = comparing->call;
	struct error error;

	struct progress *progress = progress_start(call->err, PROGRESS_AFTER_S);
	progress_tell(progress, "%s ...", comparing->span.title);
	int trouble = read_and_judge(comparing, &error);
	progress_end(progress);
	if (trouble != 0)
		return command_cannot(call, &error);
	comparing->page = command_page(call);
	if (!comparing->page)
		return COMMAND_CANNOT;
	comparing->all_same = comparing->count > 0 && !comparing->more;
	put_all(comparing);
	return command_end_page(
	    call, comparing->page, comparing->all_same ? COMMAND_DONE : COMMAND_NO);
}

/* --- what is asked ---------------------------------------------------------------------------------- */

/* A difference: of two temperatures, without the 32. */
static enum command_exit
read_margin(struct comparing *comparing)
{
	const struct call *call = comparing->call;
	int feature = comparing->asked.feature;
	double margin_si;

	comparing->asked.margin = NAN;
	if (!call->option[OPTION_MARGIN])
		return COMMAND_DONE;
	if (feature < 0)
		return command_usage(
		    call, "'--margin' needs --characteristic NAME: of what?");
	enum dimension dimension = feature_get(feature)->dimension;
	if (dimension == DIMENSION_TEMPERATURE)
		dimension = DIMENSION_TEMPERATURE_DIFFERENCE;
	enum command_exit code =
	    measure_option(call, OPTION_MARGIN, dimension, &margin_si);
	if (code != COMMAND_DONE)
		return code;
	if (!(margin_si > 0))
		return command_usage(call, "'--margin' must be above 0");
	comparing->asked.margin = feature_from_si(feature, margin_si);
	return COMMAND_DONE;
}

static enum command_exit
read_asked(struct comparing *comparing)
{
	const struct call *call = comparing->call;
	const struct session *session = comparing->session;
	enum command_exit code =
	    session_one_line(session, call, &comparing->asked.line);

	if (code == COMMAND_DONE)
		code = characteristic_option(call, &comparing->asked.feature);
	if (code == COMMAND_DONE)
		code = read_margin(comparing);
	if (code == COMMAND_DONE)
		code = found_check(call, session);
	if (code != COMMAND_DONE)
		return code;
	const char *line = session->settings->lines[comparing->asked.line].name;
	code = span_read(&comparing->span, session, call, line);
	if (code == COMMAND_DONE && !comparing->span.given)
		code = span_latest(&comparing->span, session, call, line);
	return code;
}

static enum command_exit
compare(const struct call *call, const struct session *session)
{
	struct comparing *comparing = calloc(1, sizeof *comparing);
	struct error error;

	if (!comparing) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	comparing->call = call;
	comparing->session = session;
	comparing->asked.session = session;
	comparing->asked.reference = call->option[OPTION_REFERENCE];
	enum command_exit code = read_asked(comparing);
	if (code == COMMAND_DONE)
		code = write_comparison(comparing);
	for (size_t i = 0; i < comparing->count; i++)
		compare_kind_release(&comparing->kinds[i]);
	found_release(&comparing->found);
	free(comparing);
	return code;
}

static enum command_exit
run_compare(const struct call *call)
{
	return session_run(call, compare);
}

const struct command command_compare = {
    .name = "compare",
    .arguments = "",
    .summary = "shots against a reference run: is it still what it was",
    .details =
	"Without a time: the latest shift that has shots.  Shots of each kind (side,\n"
	"recipe, tool) are held against the newest reference run of their kind, or\n"
	"the one that --reference names, feature by feature: the difference of the\n"
	"means with its interval and whether it is shown to lie within a margin, the\n"
	"ratio of the scatters, today's Ppk beside that of then; about how many more\n"
	"shots would settle what is open.  First stands what changed during this time\n"
	"and ended elsewhere, with the shot it began at; then what is different, then\n"
	"what has limits.  Told too is what report finds sure or likely.  A feature "
	"whose definition, sensors, calibrations or material's\n"
	"properties became others since is refused, with what changed and when.\n"
	"Exits 0 when all that was compared is shown to be the same, 1 when something\n"
	"is different or open, or nothing could be compared.",
    .options = OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS | OPTION_BIT(OPTION_REFERENCE) |
               OPTION_BIT(OPTION_CHARACTERISTIC) | OPTION_BIT(OPTION_MARGIN) |
               OPTION_BIT(OPTION_RECIPE) | OPTION_BIT(OPTION_TOOL) |
               OPTION_BIT(OPTION_SIDE) | OPTION_BIT(OPTION_LOT),
    .csv_table = "features",
    .pages = true,
    .run = run_compare,
};
