/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/found.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "cli/command/shown.h"
#include "daemon/base/calendar.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { SUBJECT = 64, DIGITS_MOST = 4 };

static const char *
side_text(const struct finding *finding)
{
	return finding->side == 0 ? "top" : finding->side == 1 ? "bottom" : "";
}

/* "top pyrometer 2", "water circuit 3"; "" for the whole line. */
static void
subject_words(const struct finding *finding, char words[static SUBJECT])
{
	const char *what = NULL;

	switch (finding->cause) {
	case FINDING_DEAD_ZONE:
	case FINDING_WINDOW:
		what = "pyrometer";
		break;
	case FINDING_BLOCKED_CIRCUIT:
	case FINDING_CLOSED_CIRCUIT:
	case FINDING_SCALED_CIRCUIT:
		what = "water circuit";
		break;
	case FINDING_CONTACT:
	case FINDING_TOOL_SENSOR:
		what = "tool sensor";
		break;
	case FINDING_DISAGREES:
		snprintf(words, SUBJECT, "%s", feature_get(finding->feature)->name);
		return;
	case FINDING_EMISSIVITY:
		snprintf(words, SUBJECT, "%s%s", side_text(finding),
		    finding->side >= 0 ? " pyrometers" : "all pyrometers");
		return;
	case FINDING_ELEMENTS:
	case FINDING_LOT_FLOW:
	case FINDING_LOT_THICKNESS:
	case FINDING_COLD_STACK:
	case FINDING_MAINS:
	case FINDING_DRAUGHT:
	case FINDING_SUPPLY_FLOW:
	case FINDING_SUPPLY_TEMPERATURE:
	case FINDING_CAUSE_COUNT:
		break;
	}
	words[0] = '\0';
	if (what && finding->position > 0)
		snprintf(words, SUBJECT, "%s%s%s %d", side_text(finding),
		    finding->side >= 0 ? " " : "", what, finding->position);
}

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
	    {"deviations", "off by s", 0},
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
	char at[CALENDAR_TEXT], last_good[64] = "";

	calendar_local_text(finding->first_at, at);
	if (finding->last_good > 0)
		snprintf(last_good, sizeof last_good, "last good %" PRId64,
		    finding->last_good);
	else
		snprintf(last_good, sizeof last_good, "in all shots looked at");
	snprintf(words, room, "from shot %" PRId64 " (%s) on, %s%s",
	    finding->first_shot, at, last_good,
	    of_one_shot        ? ""
	    : finding->lasting ? ", still so at the end"
			       : ", over by the end");
}

static void
put_labels(struct page *page, const struct found *found, const struct finding *finding)
{
	char subject[SUBJECT];

	subject_words(finding, subject);
	page_field(page, "cause", NULL, cell_words(finding_cause_text(finding->cause)));
	page_field(page, "sure", NULL, cell_words(finding_sure_text(finding->sure)));
	page_field(page, "subject", NULL, shown_name(subject));
	page_field(page, "position", NULL,
	    finding->position > 0 ? cell_count(finding->position) : cell_absent(NULL));
	page_field(page, "side", NULL, shown_name(side_text(finding)));
	page_field(page, "up", NULL, cell_truth(finding->up));
	page_field(page, "first_shot", NULL, cell_count(finding->first_shot));
	page_field(page, "first_at", NULL, cell_time(finding->first_at));
	page_field(page, "last_good_shot", NULL,
	    finding->last_good > 0 ? cell_count(finding->last_good)
				   : cell_absent(NULL));
	page_field(page, "lasting", NULL, cell_truth(finding->lasting));
	page_field(page, "reference", NULL, cell_words(found->reference.name));
	page_field(page, "recipe", NULL, shown_name(found->kind.recipe));
	page_field(page, "tool", NULL, shown_name(found->kind.tool));
	page_field(page, "machine_side", NULL, shown_name(found->kind.side));
}

static void
put_finding(struct page *page, const struct settings *settings,
    const struct found *found, const struct finding *finding, bool of_one_shot)
{
	char what[FINDING_TEXT], look[FINDING_TEXT], cause[40], subject[SUBJECT];
	char since[160], heading[160];

	finding_tell(finding, what, look);
	shown_words(finding_cause_text(finding->cause), cause, sizeof cause);
	subject_words(finding, subject);
	since_words(finding, of_one_shot, since, sizeof since);
	snprintf(heading, sizeof heading, "%s%s%s (%s)", cause, *subject ? ": " : "",
	    subject, finding_sure_text(finding->sure));
	page_open(page, GROUP_ITEM, NULL, heading);
	page_note(page, NULL, TONE_BAD, "%s", since);
	page_note(page, "what", TONE_PLAIN, "%s", what);
	put_labels(page, found, finding);
	put_evidence(page, settings, finding);
	page_note(page, "look_at", TONE_PLAIN, "%s", look);
	page_close(page);
}

/* --- all of them -------------------------------------------------------------------------- */

static void
put_kind(struct page *page, const struct settings *settings, const struct found *found,
    bool of_one_shot)
{
	char words[KIND_TEXT];

	kind_words(&found->kind, words);
	if (*found->trouble) {
		page_note(page, NULL, TONE_PLAIN, "%s", found->trouble);
		return;
	}
	page_note(page, NULL, TONE_STRONG,
	    "against reference %s (%" PRId64 " shots), %s: %zu shot%s looked at%s",
	    found->reference.name, found->reference.shots, words, found->shots,
	    found->shots == 1 ? "" : "s",
	    found->count > 0 ? ""
	    : of_one_shot    ? "; nothing disagrees at this one"
			     : "; nothing disagrees");
	if (*found->calibrated_since)
		page_note(page, NULL, TONE_PLAIN,
		    "calibrated since the reference was made: %s: figures that rest on "
		    "them may have moved by that alone, and nothing is surer than "
		    "possible until you freeze a new one",
		    found->calibrated_since);
	for (size_t i = 0; i < found->count; i++)
		put_finding(page, settings, found, &found->list[i], of_one_shot);
}

/* For machines: also of the kinds that nothing was found of. */
static void
put_references(struct page *page, const struct found_all *all)
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
		    cell_count((int64_t)found->count),
		    shown_name(found->trouble),
		    shown_name(found->calibrated_since),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

void
found_put(struct page *page, const struct session *session, const struct found_all *all,
    bool of_one_shot)
{
	page_open(page, GROUP_LIST, "findings", all->count > 0 ? "Findings" : NULL);
	for (size_t i = 0; i < all->count; i++)
		put_kind(page, session->settings, &all->list[i], of_one_shot);
	if (all->more)
		page_note(page, NULL, TONE_PLAIN,
		    "more than %d kinds of shots: the others are not looked at",
		    FOUND_KINDS);
	page_close(page);
	put_references(page, all);
}
