/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/report_held.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/report/report_run.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { ANSWER_BYTES = 2048, ANSWERED = 4 };

/* --- those that are asked about ------------------------------------------------------------ */

/* Whether it shows in any of the shots that the report is of. */
static bool
is_in(const struct finding *finding, const struct populations *all)
{
	for (size_t i = 0; i < all->count; i++) {
		const struct numbers *numbers = &all->list[i].complete;
		for (size_t k = 0; k < numbers->count; k++)
			if (numbers->list[k] >= finding->first_shot &&
			    (finding->lasting ||
				numbers->list[k] <= finding->last_shot))
				return true;
	}
	return false;
}

/* Of a lot alone: what shows in its shots. */
static void
choose_findings(struct found *found, const struct populations *all)
{
	size_t kept = 0;

	for (size_t i = 0; i < found->count; i++) {
		if (!is_in(&found->list[i], all))
			continue;
		found->list[kept] = found->list[i];
		text_copy(
		    found->remark[kept], sizeof found->remark[kept], found->remark[i]);
		kept++;
	}
	found->in_all -= found->count - kept;
	found->count = kept;
}

static bool
is_chosen(const struct population_chosen *chosen, const struct kind *kind)
{
	return (!chosen->recipe || strcmp(chosen->recipe, kind->recipe) == 0) &&
	       (!chosen->tool || strcmp(chosen->tool, kind->tool) == 0);
}

static void
choose(struct found_all *all, const struct report_line *line)
{
	size_t kept = 0;

	for (size_t i = 0; i < all->count; i++) {
		if (!is_chosen(&line->chosen, &all->list[i].kind))
			continue;
		if (i > kept) {
			struct found found = all->list[kept];
			all->list[kept] = all->list[i];
			all->list[i] = found;
		}
		if (line->chosen.lot)
			choose_findings(&all->list[kept], line->all);
		kept++;
	}
	all->count = kept;
}

int
report_held_read(struct found_all *all, const struct session *session,
    const char *reference, const struct report_line *line, struct error *error)
{
	int index = settings_find_line(session->settings, line->line);
	const struct found_asked asked = {index, line->from, line->to, reference};

	*all = (struct found_all){0};
	if (!session->ledger || index < 0 || line->all->shots == 0)
		return 0;
	int code = found_read_span(all, session, &asked, error);
	if (code == 0)
		choose(all, line);
	return code;
}

/* --- in one sentence ------------------------------------------------------------------------ */

static void
add_finding(struct text *text, const struct found *found, const struct finding *finding)
{
	char cause[40], subject[FOUND_SUBJECT];

	shown_words(finding_cause_text(finding->cause), cause, sizeof cause);
	found_subject(finding, found->kind.side, subject);
	text_printf(text, "%s%s%s%s (%s), from shot %" PRId64 " on%s",
	    text->length ? "; " : "", cause, *subject ? ", " : "", subject,
	    finding_sure_text(finding->sure), finding->first_shot,
	    finding->lasting ? "" : ", not at the end any more");
}

void
report_held_answer(struct page *page, const struct found_all *all)
{
	size_t count = 0;
	struct text text;

	text_init(&text, ANSWER_BYTES);
	for (int sure = FINDING_SURE; sure >= FINDING_LIKELY; sure--)
		for (size_t i = 0; i < all->count; i++)
			for (size_t k = 0; k < all->list[i].count; k++) {
				const struct finding *one = &all->list[i].list[k];
				if ((int)one->sure != sure ||
				    one->cause == FINDING_DISAGREES ||
				    ++count > ANSWERED)
					continue;
				add_finding(&text, &all->list[i], one);
			}
	if (count > ANSWERED)
		text_printf(&text, "; and %zu more", count - ANSWERED);
	if (count > 0)
		page_note(page, "found", TONE_STRONG, "Found: %s",
		    text.bytes ? text.bytes : "");
	else
		page_field(page, "found", NULL, cell_absent(NULL));
	text_release(&text);
}

/* --- all ------------------------------------------------------------------------------------- */

/* What the runs are held against, in their order; the caller frees. */
static struct report_reference *
references_of(const struct report_line *line, const struct found_all *all)
{
	struct report_reference *references =
	    calloc(line->runs.count + 1, sizeof *references);

	for (size_t i = 0; references && i < line->runs.count; i++) {
		const struct run *run = &line->runs.list[i];
		for (size_t k = 0; k < all->count && references[i].id == 0; k++) {
			const struct found *found = &all->list[k];
			if (strcmp(found->kind.recipe, run->recipe) != 0 ||
			    strcmp(found->kind.tool, run->tool) != 0)
				continue;
			references[i].id = found->reference.id;
			text_copy(references[i].name, sizeof references[i].name,
			    found->reference.name);
		}
	}
	return references;
}

int
report_held_put(const struct found_all *all, const struct session *session,
    const struct report_line *line, bool as_table, struct error *error)
{
	int index = settings_find_line(session->settings, line->line);

	if (session->ledger && index >= 0 && as_table)
		found_put_table(line->page, session, all, index);
	else if (session->ledger && index >= 0)
		found_put(line->page, session, all, index, false);
	struct report_reference *references = references_of(line, all);
	int code = references ? report_runs_put(line, references, error)
	                      : error_set(error, ERROR_MEMORY, "out of memory");
	free(references);
	return code;
}

/* As things stood at the end of the time, or stand now. */
static int
put_calibration(const struct session *session, const struct report_line *line,
    int index, struct error *error)
{
	struct wall at = clock_wall();
	char words[CALIBRATE_WORDS];
	struct calibrate_held *held =
	    calloc(session->settings->channel_count + 1, sizeof *held);

	if (!held)
		return error_set(error, ERROR_MEMORY, "out of memory");
	if (line->to.ns != 0 && line->to.ns < at.ns)
		at = line->to;
	int code = calibrate_state_read(
	    held, session->ledger, session->settings, index, at, error);
	if (code == 0) {
		calibrate_words(session->settings, index, held, at, words);
		page_field(line->page, "calibrated", "calibrated", cell_words(words));
	}
	free(held);
	return code;
}

int
report_held_calibrated(
    const struct session *session, const struct report_line *line, struct error *error)
{
	int index = settings_find_line(session->settings, line->line);

	if (session->ledger && index >= 0)
		return put_calibration(session, line, index, error);
	page_field(line->page, NULL, "calibrations, findings",
	    cell_words("ask the ledger of the line's own PC"));
	return 0;
}
