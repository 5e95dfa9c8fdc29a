/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/remark.h"

#include <string.h>

#include "cli/population/judgement.h"
#include "cli/population/population.h"
#include "cli/wording/shown.h"
#include "daemon/base/text.h"

const struct remark_key remark_keys[REMARK_KEYS] = {
    {FEATURE_HEAT_S, "heat"},
    {FEATURE_SAG_S, "sag"},
    {FEATURE_EXIT_TOP_C, "top"},
    {FEATURE_EXIT_BOTTOM_C, "bottom"},
    {FEATURE_CORE_FORM_START_C, "core"},
    {FEATURE_TOOL_SPREAD_OF_MEANS_DC, "spread"},
    {FEATURE_ENERGY_KWH, NULL},
    {FEATURE_CYCLE_S, "cycle"},
};

/* A flag in words, and where these would only repeat what is said already: beside an
 * outcome, or a reason with `said` in it. */
static const struct {
	const char *words, *said;
	uint32_t flag;
	int outcome; /* -1: none */
} flag_words[SHOT_FLAG_BITS] = {
    {"polls missing", "missing", SHOT_FLAG_GAP, SHOT_PARTIAL},
    {"sag eye on too soon or bouncing", "sag eye", SHOT_FLAG_SAG_STUCK, -1},
    {"released by the timer", "timer", SHOT_FLAG_TIMER, SHOT_TIMER_RELEASE},
    {"heated too short", " s in ", SHOT_FLAG_SHORT_HEAT, -1},
    {"the line moved on twice", "moved on", SHOT_FLAG_DOUBLE_INDEX, -1},
    {"machine fault", "fault", SHOT_FLAG_FAULT, -1},
    {"machine in manual", "manual", SHOT_FLAG_MANUAL, -1},
    {"just after a stop", "after a stop", SHOT_FLAG_STARTUP, SHOT_STARTUP},
    {"cycle counter jumped", "counter", SHOT_FLAG_COUNT_JUMP, -1},
    {"the clock was set", "clock", SHOT_FLAG_CLOCK_STEP, -1},
    {"platens closed late", "closed late", SHOT_FLAG_LATE_FORM, -1},
    {"logger started meanwhile", "logg", SHOT_FLAG_LOGGER_START, -1},
    {"heated again", "again", SHOT_FLAG_REHEAT, SHOT_REHEATED},
    {"signals in an order that cannot be", "order", SHOT_FLAG_SEQUENCE, -1},
    {"platens closed too short", "closed for", SHOT_FLAG_SHORT_FORM, -1},
};

/* Adds to a list. */
static void
add(struct text *words, const char *more)
{
	text_printf(words, "%s%s", words->length ? "; " : "", more);
}

static void
add_flags(struct text *words, uint32_t flags, int outcome, const char *reason)
{
	for (int i = 0; i < SHOT_FLAG_BITS; i++)
		if ((flags & flag_words[i].flag) &&
		    (outcome < 0 || outcome != flag_words[i].outcome) &&
		    !strstr(reason, flag_words[i].said))
			add(words, flag_words[i].words);
}

/* The title of a key feature, or the name without its unit and with blanks: people read
 * the site's unit beside it. */
static void
name_of(int feature, char name[static SETTINGS_NAME])
{
	static const char *const endings[] = {"_c_per_s", "_kwh", "_dc", "_c", "_s"};
	char plain[SETTINGS_NAME];

	for (int i = 0; i < REMARK_KEYS; i++)
		if (remark_keys[i].feature == feature && remark_keys[i].title) {
			text_copy(name, SETTINGS_NAME, remark_keys[i].title);
			return;
		}
	text_copy(plain, sizeof plain, feature_get(feature)->name);
	for (size_t i = 0; i < sizeof endings / sizeof endings[0]; i++) {
		size_t length = strlen(plain), ending = strlen(endings[i]);
		if (length > ending &&
		    strcmp(plain + length - ending, endings[i]) == 0) {
			plain[length - ending] = '\0';
			break;
		}
	}
	shown_words(plain, name, SETTINGS_NAME);
}

/* What is beyond the limits that the set-up has for the shot's recipe and tool. */
static void
add_outside(
    struct text *words, const struct settings *settings, const struct ledger_shot *shot)
{
	int recipe = population_recipe(shot->recipe);

	for (int id = 0; id < FEATURE_COUNT; id++) {
		double value = shot->value[id], lower, upper;
		char name[SETTINGS_NAME];
		judgement_limits(settings_limit(settings, id, recipe, shot->tool), id,
		    &lower, &upper);
		if (!(value < lower || value > upper))
			continue;
		const char *unit = shown_unit(settings, id);
		struct cell is = shown_value(settings, id, value);
		struct cell limit =
		    shown_value(settings, id, value < lower ? lower : upper);
		name_of(id, name);
		text_printf(words, "%s%s %.*f%s%s %s %.*f", words->length ? "; " : "",
		    name, is.digits, is.shown, *unit ? " " : "", unit,
		    value < lower ? "below" : "above", limit.digits, limit.shown);
	}
}

/* Key figures that a whole shot should have.  Where there is nothing to measure, as of a
 * cycle after an empty frame, nothing is odd about this shot. */
static void
add_absent(struct text *words, const struct ledger_shot *shot)
{
	for (int i = 0; i < REMARK_KEYS; i++) {
		int id = remark_keys[i].feature;
		enum absent why = (enum absent)shot->absent[id];
		char name[SETTINGS_NAME], reason[SETTINGS_NAME];
		if (why == ABSENT_NOT || why == ABSENT_NOT_CONFIGURED ||
		    why == ABSENT_NOT_APPLICABLE)
			continue;
		name_of(id, name);
		shown_words(absent_text(why), reason, sizeof reason);
		text_printf(
		    words, "%sno %s: %s", words->length ? "; " : "", name, reason);
	}
}

/* "top: 2 of 3 pyrometers": the mean of fewer is another figure.  Without any of them it
 * is absent, which is told of it. */
static void
add_fewer(
    struct text *words, const struct ledger_shot *shot, int first, const char *side)
{
	int there = 0, configured = 0;

	for (int id = first; id < first + FEATURE_SURFACES_MAX; id++) {
		there += shot->absent[id] == ABSENT_NOT;
		configured += shot->absent[id] != ABSENT_NOT_CONFIGURED;
	}
	if (there > 0 && there < configured)
		text_printf(words, "%s%s: %d of %d pyrometers",
		    words->length ? "; " : "", side, there, configured);
}

/* Whether a part was made, with all of its way seen: only then are limits about it. */
static bool
is_made(enum shot_outcome outcome)
{
	switch (outcome) {
	case SHOT_PARTIAL:
	case SHOT_EMPTY:
	case SHOT_SCRAPPED:
	case SHOT_ABORTED:
	case SHOT_OUTCOME_COUNT:
		return false;
	case SHOT_INTERRUPTED:
	case SHOT_REHEATED:
	case SHOT_TIMER_RELEASE:
	case SHOT_STARTUP:
	case SHOT_COMPLETE:
		return true;
	}
	return false;
}

static void
add_why(
    struct text *words, enum shot_outcome outcome, const char *reason, uint32_t flags)
{
	char word[REMARK_OUTCOME];

	remark_outcome(outcome, word);
	if (outcome != SHOT_COMPLETE)
		text_printf(words, "%s%s%s", word, *reason ? ": " : "", reason);
	add_flags(words, flags, (int)outcome, reason);
}

static void
put_words(struct text *words, char text[static REMARK_TEXT])
{
	text_copy(text, REMARK_TEXT, words->bytes ? words->bytes : "");
	text_release(words);
}

void
remark_features(const struct settings *settings, struct population_features *features)
{
	features->count = 0;
	for (size_t i = 0; i < settings->limit_count; i++)
		population_features_add(features, settings->limits[i].feature);
	for (size_t i = 0; i < REMARK_KEYS; i++)
		population_features_add(features, remark_keys[i].feature);
	for (int i = 0; i < FEATURE_SURFACES_MAX; i++) {
		population_features_add(features, FEATURE_EXIT_TOP_FIRST + i);
		population_features_add(features, FEATURE_EXIT_BOTTOM_FIRST + i);
	}
}

void
remark_on(const struct settings *settings, const struct ledger_shot *shot,
    char text[static REMARK_TEXT])
{
	struct text words;

	text_init(&words, REMARK_TEXT);
	add_why(&words, shot->outcome, shot->reason, shot->flags);
	if (is_made(shot->outcome))
		add_outside(&words, settings, shot);
	if (shot->outcome == SHOT_COMPLETE) {
		add_absent(&words, shot);
		add_fewer(&words, shot, FEATURE_EXIT_TOP_FIRST, "top");
		add_fewer(&words, shot, FEATURE_EXIT_BOTTOM_FIRST, "bottom");
	}
	put_words(&words, text);
}

void
remark_why(enum shot_outcome outcome, const char *reason, uint32_t flags,
    char text[static REMARK_TEXT])
{
	struct text words;

	text_init(&words, REMARK_TEXT);
	add_why(&words, outcome, reason, flags);
	put_words(&words, text);
}

void
remark_flags(uint32_t flags, char text[static REMARK_TEXT])
{
	struct text words;

	text_init(&words, REMARK_TEXT);
	add_flags(&words, flags, -1, "");
	put_words(&words, text);
}

void
remark_outcome(enum shot_outcome outcome, char text[static REMARK_OUTCOME])
{
	shown_words(shot_outcome_text(outcome), text, REMARK_OUTCOME);
}
