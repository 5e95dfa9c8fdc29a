/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/duty_judge.h"

#include "daemon/shot/duty_rules.h"

enum { STEPS_MAX = 4 }; /* bits or pairs that are wrong at once, at most */

/* Bit a turned round when a == b; else a and b exchanged. */
static void
rewire(const struct duty_log *log, int a, int b, struct duty_log *to)
{
	*to = *log;
	for (size_t i = 0; i < to->count; i++) {
		struct duty_state *state = &to->states[i];
		uint32_t on = (state->on >> a ^ state->on >> b) & 1;
		uint32_t known = (state->known >> a ^ state->known >> b) & 1;

		if (a == b)
			state->on ^= UINT32_C(1) << a;
		state->on ^= on << a | on << b;
		state->known ^= known << a | known << b;
	}
}

struct remedy {
	int a, b;
	int also;    /* exchanging a with this one would do as well; -1: none */
	size_t left; /* breaches with it */
};

/* The one after which the fewest rules are broken; the first of equals, single bits
 * before pairs. */
static struct remedy
best_remedy(const struct duty_wiring *wiring, const struct duty_log *log,
    const bool sides[static SETTINGS_SIDES])
{
	struct remedy best = {-1, -1, -1, SIZE_MAX};
	struct duty_breaches breaches;
	struct duty_log other;

	for (int apart = 0; apart < wiring->bit_count; apart++)
		for (int a = 0; a + apart < wiring->bit_count; a++) {
			rewire(log, a, a + apart, &other);
			duty_hold(wiring, &other, sides, &breaches);
			if (breaches.count < best.left)
				best =
				    (struct remedy){a, a + apart, -1, breaches.count};
			else if (breaches.count == best.left && best.also < 0 &&
				 best.a == best.b &&
				 (a == best.a || a + apart == best.a))
				best.also = a == best.a ? a + apart : a;
		}
	return best;
}

/* The first rule broken by one of the bits. */
static const char *
why(const struct duty_breaches *breaches, int a, int b)
{
	for (size_t i = 0; i < breaches->count; i++) {
		const struct duty_breach *breach = &breaches->list[i];

		if (breach->a == a || breach->a == b || breach->b == a ||
		    breach->b == b)
			return breach->why;
	}
	return breaches->list[0].why;
}

static void
note_remedy(const struct remedy *remedy, const struct duty_breaches *breaches,
    struct duty_finding *findings)
{
	struct duty_finding finding = {
	    .verdict = remedy->a == remedy->b ? DUTY_INVERTED : DUTY_SWAPPED,
	    .other = remedy->a == remedy->b ? remedy->also : remedy->b,
	    .why = why(breaches, remedy->a, remedy->b)};

	findings[remedy->a] = finding;
	if (remedy->a == remedy->b)
		return;
	finding.other = remedy->a;
	findings[remedy->b] = finding;
}

/* What no remedy sets right. */
static void
note_rest(const struct duty_breaches *breaches, struct duty_finding *findings)
{
	for (size_t i = 0; i < breaches->count; i++) {
		const struct duty_breach *breach = &breaches->list[i];

		if (findings[breach->b].verdict == DUTY_FINE)
			findings[breach->b] = (struct duty_finding){
			    breach->constant ? DUTY_CONSTANT : DUTY_ODD, breach->a,
			    breach->why};
	}
}

void
duty_judge(const struct duty_wiring *wiring, const struct duty_log *log,
    struct duty_finding findings[static DUTY_BITS])
{
	struct duty_log now = *log, next;
	struct duty_breaches breaches;
	bool sides[SETTINGS_SIDES];

	for (int i = 0; i < DUTY_BITS; i++)
		findings[i] = (struct duty_finding){.verdict = DUTY_FINE, .other = -1};
	duty_find_working(wiring, log, sides);
	duty_hold(wiring, &now, sides, &breaches);
	for (int step = 0; step < STEPS_MAX && breaches.count > 0; step++) {
		struct remedy remedy = best_remedy(wiring, &now, sides);

		if (remedy.left >= breaches.count)
			break;
		note_remedy(&remedy, &breaches, findings);
		rewire(&now, remedy.a, remedy.b, &next);
		now = next;
		duty_hold(wiring, &now, sides, &breaches);
	}
	note_rest(&breaches, findings);
}
