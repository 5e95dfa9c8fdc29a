/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/duty_rules.h"

#define SLACK_S 2.5 /* bits of two devices are not read at the same instant */

/* What is held against what; "most" is two of three. */
enum test {
	MOVES,           /* b changes at all */
	NOT_DURING,      /* b is off for most of most pulses of a */
	THROUGHOUT,      /* b is on all through most pulses of a */
	STEADY,          /* b does not change within most pulses of a */
	ON_BEFORE_RISE,  /* b is on just before most rises of a */
	OFF_BEFORE_RISE, /* b is off just before most rises of a */
	OFF_BEFORE_FALL, /* b is off just before most falls of a */
	UNTIL_RISE,      /* a rises within most pulses of b */
	UNTIL_FALL,      /* a falls within most pulses of b */
	AS_OFTEN,        /* b comes on at least once in three pulses of a */
	SELDOM,          /* b comes on at most twice in three pulses of a */
	SHORTER,         /* pulses of a are shorter than those of b */
	SOONER,          /* from a to b it takes less time than from b to a */
	LATE_FROM_RISE,  /* b comes on no sooner than a sheet sags after a rises ... */
	LATE_FROM_FALL,  /* ... falls */
};

struct rule {
	enum test test;
	enum role a, b; /* b is the one to blame */
	const char *why;
};

static const struct rule ring[] = {
    {MOVES, ROLE_ROTATING, ROLE_ROTATING, "it never changes"},
    {MOVES, ROLE_FORM_CLOSED, ROLE_FORM_CLOSED, "it never changes"},
    {MOVES, ROLE_SAG_EYE, ROLE_SAG_EYE, "it never changes"},
    {MOVES, ROLE_SHEET_AT_LOAD, ROLE_SHEET_AT_LOAD, "it never changes"},
    {NOT_DURING, ROLE_ROTATING, ROLE_FORM_CLOSED,
	"the platens are closed while the frames move"},
    {NOT_DURING, ROLE_FORM_CLOSED, ROLE_ROTATING,
	"the frames move while the platens are closed"},
    {SHORTER, ROLE_ROTATING, ROLE_FORM_CLOSED,
	"the frames move for longer than the platens are closed"},
    {AS_OFTEN, ROLE_FORM_CLOSED, ROLE_ROTATING, "the frames hardly ever move"},
    {AS_OFTEN, ROLE_ROTATING, ROLE_FORM_CLOSED, "the platens hardly ever close"},
    {OFF_BEFORE_FALL, ROLE_ROTATING, ROLE_SAG_EYE,
	"the sheet has sagged as it comes into the oven"},
    {LATE_FROM_FALL, ROLE_ROTATING, ROLE_SAG_EYE,
	"the sheet sags sooner than any sheet can"},
    {UNTIL_RISE, ROLE_ROTATING, ROLE_SAG_EYE,
	"the sag is over before the sheet leaves the oven"},
    {ON_BEFORE_RISE, ROLE_ROTATING, ROLE_SHEET_AT_LOAD,
	"no sheet at the load station as the frames move on"},
    {ON_BEFORE_RISE, ROLE_FORM_CLOSED, ROLE_SHEET_AT_FORM,
	"no sheet at the form station as the platens close"},
    {STEADY, ROLE_FORM_CLOSED, ROLE_SHEET_AT_FORM,
	"the sheet at the form station comes or goes with the platens closed"},
    {SELDOM, ROLE_ROTATING, ROLE_AUTOMATIC, "it comes on in every cycle"},
    {SELDOM, ROLE_ROTATING, ROLE_FAULT, "it comes on in every cycle"},
    {ON_BEFORE_RISE, ROLE_ROTATING, ROLE_AUTOMATIC,
	"the frames move on, and not in automatic"},
    {OFF_BEFORE_RISE, ROLE_ROTATING, ROLE_FAULT, "the frames move on in fault"},
    {ON_BEFORE_RISE, ROLE_FORM_CLOSED, ROLE_AUTOMATIC,
	"the platens close, and not in automatic"},
    {OFF_BEFORE_RISE, ROLE_FORM_CLOSED, ROLE_FAULT, "the platens close in fault"},
};

static const struct rule carriage[] = {
    {MOVES, ROLE_OVEN_IN, ROLE_OVEN_IN, "it never changes"},
    {MOVES, ROLE_FORM_CLOSED, ROLE_FORM_CLOSED, "it never changes"},
    {MOVES, ROLE_CLAMP_CLOSED, ROLE_CLAMP_CLOSED, "it never changes"},
    {MOVES, ROLE_SHEET_IN_FRAME, ROLE_SHEET_IN_FRAME, "it never changes"},
    {MOVES, ROLE_SAG_EYE, ROLE_SAG_EYE, "it never changes"},
    {NOT_DURING, ROLE_OVEN_IN, ROLE_FORM_CLOSED,
	"the platens are closed while the sheet is in the oven"},
    {NOT_DURING, ROLE_FORM_CLOSED, ROLE_OVEN_IN,
	"the sheet is in the oven while the platens are closed"},
    {OFF_BEFORE_RISE, ROLE_FORM_CLOSED, ROLE_OVEN_IN,
	"the sheet is in the oven while the platens close"},
    {SOONER, ROLE_OVEN_IN, ROLE_FORM_CLOSED,
	"from the platens to the oven it goes sooner than from oven to platens"},
    {AS_OFTEN, ROLE_FORM_CLOSED, ROLE_OVEN_IN, "hardly a sheet goes into the oven"},
    {AS_OFTEN, ROLE_OVEN_IN, ROLE_FORM_CLOSED, "the platens hardly ever close"},
    {AS_OFTEN, ROLE_OVEN_IN, ROLE_CLAMP_CLOSED, "the clamp hardly ever closes"},
    {THROUGHOUT, ROLE_OVEN_IN, ROLE_CLAMP_CLOSED,
	"the clamp is open while the sheet is in the oven"},
    {STEADY, ROLE_OVEN_IN, ROLE_CLAMP_CLOSED,
	"the clamp opens or closes while the sheet is in the oven"},
    {STEADY, ROLE_OVEN_IN, ROLE_SHEET_IN_FRAME,
	"the sheet comes or goes while it is in the oven"},
    {ON_BEFORE_RISE, ROLE_FORM_CLOSED, ROLE_CLAMP_CLOSED,
	"the clamp is open as the platens close"},
    {ON_BEFORE_RISE, ROLE_OVEN_IN, ROLE_SHEET_IN_FRAME,
	"no sheet in the frame as it goes into the oven"},
    {OFF_BEFORE_RISE, ROLE_OVEN_IN, ROLE_SAG_EYE,
	"the sheet has sagged as it comes into the oven"},
    {LATE_FROM_RISE, ROLE_OVEN_IN, ROLE_SAG_EYE,
	"the sheet sags sooner than any sheet can"},
    {UNTIL_FALL, ROLE_OVEN_IN, ROLE_SAG_EYE,
	"the sag is over before the sheet leaves the oven"},
    {SELDOM, ROLE_OVEN_IN, ROLE_AUTOMATIC, "it comes on in every cycle"},
    {SELDOM, ROLE_OVEN_IN, ROLE_FAULT, "it comes on in every cycle"},
    {ON_BEFORE_RISE, ROLE_OVEN_IN, ROLE_AUTOMATIC,
	"the sheet goes into the oven, and not in automatic"},
    {OFF_BEFORE_RISE, ROLE_OVEN_IN, ROLE_FAULT,
	"the sheet goes into the oven in fault"},
};

/* Of the two sides of a shuttle: [a] of one, [b] of the other. */
static const struct rule between_sides = {
    NOT_DURING, ROLE_OVEN_IN, ROLE_OVEN_IN, "both sides are in the one oven"};

/* --- whether a rule is obeyed ------------------------------------------------------- */

/* Whether one pulse of a (of b: UNTIL_...) is as the test wants it. */
static bool
pulse_obeys(const struct duty_log *log, enum test test, const struct duty_pulse *pulse,
    int a, int b)
{
	switch (test) {
	case NOT_DURING:
		return !duty_was_on(log, pulse, b, 0.5);
	case THROUGHOUT:
		return duty_was_on(log, pulse, b, 0.9);
	case STEADY:
		return !duty_changes(log, pulse, b, SLACK_S);
	case ON_BEFORE_RISE:
		return duty_is_on(&log->states[pulse->rise - 1], b);
	case OFF_BEFORE_RISE:
		return !duty_is_on(&log->states[pulse->rise - 1], b);
	case OFF_BEFORE_FALL:
		return !duty_is_on(&log->states[pulse->fall - 1], b);
	case UNTIL_RISE:
		return duty_has_edge(log, pulse, a, true, SLACK_S);
	case UNTIL_FALL:
		return duty_has_edge(log, pulse, a, false, SLACK_S);
	case MOVES:
	case AS_OFTEN:
	case SELDOM:
	case SHORTER:
	case SOONER:
	case LATE_FROM_RISE:
	case LATE_FROM_FALL:
		break;
	}
	return true;
}

static bool
most_obey(const struct duty_log *log, enum test test, int a, int b)
{
	int each = test == UNTIL_RISE || test == UNTIL_FALL ? b : a;
	struct duty_pulse pulse;
	size_t from = 0, count = 0, obey = 0;

	while (duty_pulse_next(log, each, &from, &pulse)) {
		count++;
		obey += pulse_obeys(log, test, &pulse, a, b);
	}
	return 3 * obey >= 2 * count;
}

static bool
obeys(const struct duty_wiring *wiring, const struct duty_log *log, enum test test,
    int a, int b)
{
	switch (test) {
	case MOVES:
		return !duty_is_constant(log, b);
	case AS_OFTEN:
		return 3 * duty_rises(log, b) >= duty_rises(log, a);
	case SELDOM:
		return 3 * duty_rises(log, b) <= 2 * duty_rises(log, a);
	case SHORTER:
		return !(duty_pulse_s(log, a) >= duty_pulse_s(log, b));
	case SOONER:
		return !(duty_gap_s(log, a, false, b) >= duty_gap_s(log, b, false, a));
	case LATE_FROM_RISE:
		return !(duty_gap_s(log, a, true, b) < wiring->sag_least_s);
	case LATE_FROM_FALL:
		return !(duty_gap_s(log, a, false, b) < wiring->sag_least_s);
	case NOT_DURING:
	case THROUGHOUT:
	case STEADY:
	case ON_BEFORE_RISE:
	case OFF_BEFORE_RISE:
	case OFF_BEFORE_FALL:
	case UNTIL_RISE:
	case UNTIL_FALL:
		break;
	}
	return most_obey(log, test, a, b);
}

/* --- the rules of a line -------------------------------------------------------------- */

/* The bit of a role on a side, or -1. */
static int
bit_of(const struct duty_wiring *wiring, enum role role, int side)
{
	for (int i = 0; i < wiring->bit_count; i++)
		if (wiring->bits[i].role == role &&
		    (wiring->bits[i].side < 0 || wiring->bits[i].side == side))
			return i;
	return -1;
}

/* Not shared by two sides. */
static bool
is_own(const struct duty_wiring *wiring, int bit)
{
	return wiring->side_count == 1 || wiring->bits[bit].side >= 0;
}

/* How often the side went through a cycle, as far as this wiring shows. */
static size_t
cycles_of(const struct duty_wiring *wiring, const struct duty_log *log, int side)
{
	static const enum role signs[] = {
	    ROLE_ROTATING, ROLE_OVEN_IN, ROLE_CLAMP_CLOSED, ROLE_FORM_CLOSED};
	size_t most = wiring->counted;

	for (size_t i = 0; i < sizeof(signs) / sizeof(signs[0]); i++) {
		int bit = bit_of(wiring, signs[i], side);

		if (bit >= 0 && is_own(wiring, bit) && duty_rises(log, bit) > most)
			most = duty_rises(log, bit);
	}
	return most;
}

void
duty_find_working(const struct duty_wiring *wiring, const struct duty_log *log,
    bool sides[static SETTINGS_SIDES])
{
	size_t cycles[SETTINGS_SIDES] = {0}, most = 0;

	for (int side = 0; side < wiring->side_count; side++) {
		cycles[side] = cycles_of(wiring, log, side);
		if (cycles[side] > most)
			most = cycles[side];
	}
	for (int side = 0; side < wiring->side_count; side++)
		sides[side] = most >= DUTY_LEAST && cycles[side] >= DUTY_LEAST / 2;
}

/* Whether a rule about one side can be held against a bit that both share: the sheet in
 * the oven is this side's as it comes in. */
static bool
allows_shared(enum test test)
{
	return test == ON_BEFORE_RISE || test == OFF_BEFORE_RISE ||
	       test == LATE_FROM_RISE || test == SELDOM;
}

static bool
applies(const struct duty_wiring *wiring, const struct rule *rule, int a, int b)
{
	return rule->test == MOVES ||
	       (is_own(wiring, a) && (is_own(wiring, b) || allows_shared(rule->test)));
}

static void
hold(const struct duty_wiring *wiring, const struct duty_log *log,
    const struct rule *rule, int a, int b, struct duty_breaches *breaches)
{
	uint32_t bits = UINT32_C(1) << a | UINT32_C(1) << b;

	if ((breaches->dead & bits) != 0 || breaches->count == DUTY_BREACHES ||
	    obeys(wiring, log, rule->test, a, b))
		return;
	breaches->list[breaches->count++] =
	    (struct duty_breach){a, b, rule->test == MOVES, rule->why};
	if (rule->test == MOVES)
		breaches->dead |= bits;
}

static void
hold_side(const struct duty_wiring *wiring, const struct duty_log *log, int side,
    struct duty_breaches *breaches)
{
	bool rotary = wiring->machine == MACHINE_ROTARY;
	const struct rule *rules = rotary ? ring : carriage;
	size_t count = rotary ? sizeof(ring) / sizeof(ring[0])
	                      : sizeof(carriage) / sizeof(carriage[0]);

	for (size_t i = 0; i < count; i++) {
		int a = bit_of(wiring, rules[i].a, side);
		int b = bit_of(wiring, rules[i].b, side);

		if (a >= 0 && b >= 0 && applies(wiring, &rules[i], a, b))
			hold(wiring, log, &rules[i], a, b, breaches);
	}
}

void
duty_hold(const struct duty_wiring *wiring, const struct duty_log *log,
    const bool sides[static SETTINGS_SIDES], struct duty_breaches *breaches)
{
	breaches->count = 0;
	breaches->dead = 0;
	for (int side = 0; side < wiring->side_count; side++)
		if (sides[side])
			hold_side(wiring, log, side, breaches);
	for (int side = 0; side < wiring->side_count && wiring->side_count > 1;
	     side++) {
		int a = bit_of(wiring, between_sides.a, side);
		int b = bit_of(wiring, between_sides.b, 1 - side);

		if (a >= 0 && b >= 0 && a != b)
			hold(wiring, log, &between_sides, a, b, breaches);
	}
}
