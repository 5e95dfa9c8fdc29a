/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/found.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "daemon/base/calendar.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { DIGITS_MOST = 4 };

/* --- one finding ------------------------------------------------------------------------ */

/* Enough digits to see that the one is not the other. */
static void
tell_apart(struct cell *a, struct cell *b)
{
	double off = fabs(a->shown - b->shown);

	while (off < 5 * pow(10, -a->digits) && off > 0 && a->digits < DIGITS_MOST)
		a->digits++;
	if (a->digits > b->digits)
		b->digits = a->digits;
}

static void
put_evidence(
    struct page *page, const struct settings *settings, const struct finding *finding)
{
	static const struct column columns[] = {
	    {"feature", "figure", 0},
	    {"expected", "expected", 0},
	    {"found", "found", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"deviations", "times scatter", 0},
	    {"moved", NULL, 0},
	};

	page_table(page, "evidence", NULL, columns, COUNT(columns));
	for (int i = 0; i < finding->evidence_count; i++) {
		const struct finding_evidence *evidence = &finding->evidence[i];
		int id = evidence->feature;
		struct cell deviations = cell_number(evidence->deviations, 1);
		char figure[16];
		snprintf(figure, sizeof figure, "%+.1f", evidence->deviations);
		if (isfinite(evidence->deviations))
			deviations.instead = figure;
		deviations.tone = evidence->moved ? TONE_BAD : TONE_PLAIN;
		struct cell expected = shown_value(settings, id, evidence->expected);
		struct cell was = shown_value(settings, id, evidence->found);
		if (evidence->moved)
			tell_apart(&expected, &was);
		const struct cell cells[] = {
		    cell_words(feature_get(id)->name),
		    expected,
		    was,
		    cell_words(feature_unit_text(id)),
		    cell_words(shown_unit(settings, id)),
		    deviations,
		    cell_truth(evidence->moved),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

/* Since when, and whether it is over. */
static void
since_words(const struct finding *finding, bool of_one_shot, char *words, size_t room)
{
	char at[CALENDAR_TEXT], last_good[80], came[96] = "", over[80] = "";

	calendar_local_text(finding->first_at, at);
	if (finding->last_good > 0)
		snprintf(last_good, sizeof last_good, "last good %" PRId64,
		    finding->last_good);
	else
		snprintf(last_good, sizeof last_good,
		    "none before it among those looked at is surely good");
	if (finding->times > 1)
		snprintf(came, sizeof came,
		    "came and went %d times since shot %" PRId64 ", last ",
		    finding->times, finding->earliest_shot);
	if (!of_one_shot && finding->lasting)
		snprintf(over, sizeof over, ", still so at the end");
	else if (!of_one_shot && *finding->lot) /* it may run on */
		snprintf(over, sizeof over,
		    ", does not stand out any more after %" PRId64, finding->last_shot);
	else if (!of_one_shot)
		snprintf(over, sizeof over, ", over by the end (last in %" PRId64 ")",
		    finding->last_shot);
	snprintf(words, room, "%sfrom shot %" PRId64 " (%s) on%s, %s%s", came,
	    finding->first_shot, at, finding->cut ? " or before" : "", last_good, over);
}

/* What a finding is shown with. */
struct shown_finding {
	const struct settings *settings;
	int line;
	const struct found *found;
	const struct finding *finding;
	const char *remark;
	bool of_one_shot;
	char subject[FOUND_SUBJECT], channel[CALIBRATE_NAME];
};

static struct shown_finding
shown_of(const struct session *session, int line, const struct found *found, size_t i)
{
	struct shown_finding shown = {.settings = session->settings,
	    .line = line,
	    .found = found,
	    .finding = &found->list[i],
	    .remark = found->remark[i]};

	found_subject(shown.finding, found->kind.side, shown.subject);
	found_channel(session->settings, line, found, shown.finding, shown.channel);
	return shown;
}

static void
put_labels(struct page *page, const struct shown_finding *shown)
{
	const struct finding *finding = shown->finding;
	const struct kind *kind = &shown->found->kind;
	static const char *const sides[] = {"top", "bottom"};

	page_field(page, "cause", NULL, cell_words(finding_cause_text(finding->cause)));
	page_field(page, "sure", NULL, found_sure_cell(finding));
	page_field(page, "subject", NULL, shown_name(shown->subject));
	page_field(page, "channel", NULL, shown_name(shown->channel));
	page_field(page, "position", NULL,
	    finding->position > 0 ? cell_count(finding->position) : cell_absent(NULL));
	page_field(page, "side", NULL,
	    shown_name(finding->side >= 0 ? sides[finding->side] : ""));
	page_field(page, "up", NULL, cell_truth(finding->up));
	page_field(page, "first_shot", NULL, cell_count(finding->first_shot));
	page_field(page, "may_be_older", NULL, cell_truth(finding->cut));
	page_field(page, "first_at", NULL, cell_time(finding->first_at));
	page_field(page, "last_good_shot", NULL,
	    finding->last_good > 0 ? cell_count(finding->last_good)
				   : cell_absent(NULL));
	page_field(page, "last_shot", NULL, cell_count(finding->last_shot));
	page_field(page, "lasting", NULL, cell_truth(finding->lasting));
	page_field(page, "times", NULL, cell_count(finding->times));
	page_field(page, "earliest_shot", NULL, cell_count(finding->earliest_shot));
	page_field(page, "reference", NULL, cell_words(shown->found->reference.name));
	page_field(page, "recipe", NULL, shown_name(kind->recipe));
	page_field(page, "tool", NULL, shown_name(kind->tool));
	page_field(page, "machine_side", NULL, shown_name(kind->side));
}

static void
put_finding(struct page *page, const struct shown_finding *shown)
{
	const struct finding *finding = shown->finding;
	char what[FINDING_TEXT], look[FINDING_TEXT], cause[40];
	char since[400], heading[FOUND_SUBJECT + CALIBRATE_NAME + 80], sure[24] = "";

	finding_tell(finding, what, look);
	shown_words(finding_cause_text(finding->cause), cause, sizeof cause);
	since_words(finding, shown->of_one_shot, since, sizeof since);
	if (finding->cause != FINDING_DISAGREES)
		snprintf(sure, sizeof sure, " (%s)", finding_sure_text(finding->sure));
	snprintf(heading, sizeof heading, "%s%s%s%s%s%s", cause,
	    *shown->subject ? ": " : "", shown->subject, *shown->channel ? ", " : "",
	    shown->channel, sure);
	page_open(page, GROUP_ITEM, NULL, heading);
	page_note(page, NULL, TONE_BAD, "%s", since);
	page_note(page, "what", TONE_PLAIN, "%s", what);
	if (*shown->remark)
		page_note(page, "remark", TONE_STRONG, "%s", shown->remark);
	put_labels(page, shown);
	put_evidence(page, shown->settings, finding);
	page_note(page, "look_at", TONE_PLAIN, "%s", look);
	page_close(page);
}

/* --- all of them -------------------------------------------------------------------------- */

/* That must follow one before what begins with it is told. */
static size_t
shots_missing(const struct found *found)
{
	return found->after < FOUND_SETTLED ? FOUND_SETTLED - found->after : 0;
}

/* Which reference, and what was looked at. */
static void
put_against(struct page *page, const struct found *found, bool of_one_shot)
{
	const struct reference_known *reference = &found->reference;
	char kind[KIND_TEXT], from[CALENDAR_TEXT], looked[96];

	kind_words(&found->kind, kind);
	calendar_local_text(reference->from, from);
	if (of_one_shot)
		snprintf(looked, sizeof looked,
		    "this shot, %zu before it and %zu after it looked at",
		    found->before, found->after);
	else
		snprintf(looked, sizeof looked, "%zu shot%s looked at", found->shots,
		    found->shots == 1 ? "" : "s");
	page_note(page, NULL, TONE_STRONG,
	    "against reference %s (%" PRId64 " shots from %s on%s), %s: %s%s",
	    reference->name, reference->shots, from,
	    found->by_name ? "" : "; the newest of this kind", kind, looked,
	    found->count > 0 ? ""
	    : of_one_shot    ? "; nothing disagrees at this one"
			     : "; nothing disagrees");
	size_t missing = of_one_shot ? shots_missing(found) : 0;
	if (missing > 0)
		page_note(page, NULL, TONE_STRONG,
		    "not told yet: what begins with this shot shows when %zu more "
		    "shot%s "
		    "of its kind %s made",
		    missing, missing == 1 ? "" : "s", missing == 1 ? "is" : "are");
}

static void
put_basis(struct page *page, const struct found_basis *basis)
{
	if (*basis->calibrated_since)
		page_note(page, NULL, TONE_PLAIN,
		    "calibrated since the reference was made: %s: figures that rest on "
		    "them may have moved by that alone, and what rests on those is not "
		    "surer than possible until you freeze a new one",
		    basis->calibrated_since);
	if (basis->not_compared > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "core figures of %zu shots are not compared: the reference was "
		    "computed with %s, %s; these with %s, %s",
		    basis->not_compared,
		    *basis->properties_then ? basis->properties_then : "none",
		    *basis->thickness_then ? basis->thickness_then : "no thickness",
		    *basis->properties_now ? basis->properties_now : "none",
		    *basis->thickness_now ? basis->thickness_now : "no thickness");
	else if (*basis->thickness_now &&
		 strcmp(basis->thickness_then, basis->thickness_now) != 0)
		page_note(page, NULL, TONE_PLAIN,
		    "sheets computed as %s thick; the reference's as %s",
		    basis->thickness_now, basis->thickness_then);
}

static void
put_kind(struct page *page, const struct session *session, const struct found *found,
    int line, bool of_one_shot)
{
	if (*found->trouble) {
		page_note(page, NULL, TONE_PLAIN, "%s", found->trouble);
		return;
	}
	put_against(page, found, of_one_shot);
	put_basis(page, &found->basis);
	for (size_t i = 0; i < found->count; i++) {
		struct shown_finding shown = shown_of(session, line, found, i);
		shown.of_one_shot = of_one_shot;
		put_finding(page, &shown);
	}
	if (found->in_all > found->count)
		page_note(page, NULL, TONE_STRONG,
		    "more than %zu: %zu in all are found, those that last and the "
		    "surest are told; a shorter time tells the others",
		    found->count, found->in_all);
}

/* For machines: also of the kinds that nothing was found of. */
static void
put_references(struct page *page, const struct found_all *all, bool of_one_shot)
{
	static const struct column columns[] = {
	    {"machine_side", NULL, 0},
	    {"recipe", NULL, 0},
	    {"tool", NULL, 0},
	    {"reference", NULL, 0},
	    {"reference_shots", NULL, 0},
	    {"shots", NULL, 0},
	    {"findings", NULL, 0},
	    {"not_judged", NULL, 0},
	    {"calibrated_since", NULL, 0},
	    {"properties_then", NULL, 0},
	    {"properties_now", NULL, 0},
	    {"thickness_then", NULL, 0},
	    {"thickness_now", NULL, 0},
	    {"core_not_compared", NULL, 0},
	    {"shots_missing", NULL, 0},
	};

	page_table(page, "references", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < all->count; i++) {
		const struct found *found = &all->list[i];
		const struct cell cells[] = {
		    shown_name(found->kind.side),
		    shown_name(found->kind.recipe),
		    shown_name(found->kind.tool),
		    shown_name(found->reference.name),
		    cell_count(found->reference.shots),
		    cell_count((int64_t)found->shots),
		    cell_count((int64_t)found->in_all),
		    shown_name(found->trouble),
		    shown_name(found->basis.calibrated_since),
		    shown_name(found->basis.properties_then),
		    shown_name(found->basis.properties_now),
		    shown_name(found->basis.thickness_then),
		    shown_name(found->basis.thickness_now),
		    cell_count((int64_t)found->basis.not_compared),
		    of_one_shot && !*found->trouble
			? cell_count((int64_t)shots_missing(found))
			: cell_absent(NULL),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

void
found_put(struct page *page, const struct session *session, const struct found_all *all,
    int line, bool of_one_shot)
{
	size_t told = 0;

	page_open(page, GROUP_LIST, "findings", all->count > 0 ? "Findings" : NULL);
	for (size_t i = 0; i < all->count; i++) {
		put_kind(page, session, &all->list[i], line, of_one_shot);
		told += all->list[i].count;
	}
	if (all->more)
		page_note(page, NULL, TONE_PLAIN,
		    "more than %d kinds of shots: the others are not looked at",
		    FOUND_KINDS);
	page_close(page);
	if (of_one_shot && told > 0)
		found_put_words(page);
	put_references(page, all, of_one_shot);
}

void
found_put_words(struct page *page)
{
	page_note(page, NULL, TONE_FAINT,
	    "Findings: sure: all that a cause moves has moved, what it leaves alone "
	    "has "
	    "not, and chance is out of the question; likely: all that is measured "
	    "fits; "
	    "possible: something that would tell it from another cause is not "
	    "measured, "
	    "not beyond doubt, or computed otherwise. Times scatter: found less "
	    "expected, as a multiple of the standard deviation that one shot has in "
	    "the reference; expected is what the reference's shots would show at the "
	    "same start, hall and mains.");
}
