/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/closing.h"

#include <assert.h>

#include "daemon/shot/freeze.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/stations.h"

void
closing_add(struct closing *closing, const struct closed *closed)
{
	assert(closing->count < CLOSING_MAX);
	closing->sheets[closing->count++] = *closed;
}

static void
remember(struct closing *closing, const struct closed *closed)
{
	if (closed->sheet.stay_count == 0)
		return;
	if (closing->past_count == CLOSING_PAST) {
		closing->past_count--;
		for (size_t i = 0; i < closing->past_count; i++)
			closing->past[i] = closing->past[i + 1];
	}
	closing->past[closing->past_count].side = closed->side;
	closing->past[closing->past_count].stay =
	    closed->sheet.stays[closed->sheet.stay_count - 1];
	closing->past_count++;
}

struct closed
closing_take(struct closing *closing)
{
	assert(closing->count > 0);
	struct closed first = closing->sheets[0];

	closing->count--;
	for (size_t i = 0; i < closing->count; i++)
		closing->sheets[i] = closing->sheets[i + 1];
	remember(closing, &first);
	return first;
}

/* --- two sheets in one oven ------------------------------------------------------------ */

/* Surely at the same time, whatever the polls left open. */
static bool
overlap(const struct stay *a, const struct stay *b)
{
	bool a_ends = a->out.known && a->out.at.ns <= b->in.before.ns;
	bool b_ends = b->out.known && b->out.at.ns <= a->in.before.ns;
	bool touch = (a->out.known && a->out.before.ns < b->in.at.ns) ||
	             (b->out.known && b->out.before.ns < a->in.at.ns);

	return a->in.known && b->in.known && !a_ends && !b_ends && !touch;
}

static bool
any_overlap(const struct sheet *sheet, const struct stay *stay)
{
	for (int i = 0; i < sheet->stay_count; i++)
		if (overlap(&sheet->stays[i], stay))
			return true;
	return false;
}

static void
doubt(struct sheet *sheet)
{
	sheet->unseen = true;
	sheet->flags |= SHOT_FLAG_SEQUENCE;
}

static void
doubt_if_together(struct sheet *one, struct sheet *other)
{
	for (int i = 0; i < other->stay_count; i++)
		if (any_overlap(one, &other->stays[i])) {
			doubt(one);
			doubt(other);
			return;
		}
}

void
closing_doubt_overlaps(
    struct closing *closing, int other, struct stations *stations, struct sheet *sheet)
{
	for (int s = 0; s < stations->count; s++)
		if (!stations->at[s].filed)
			doubt_if_together(sheet, &stations->at[s]);
	for (size_t i = 0; i < closing->count; i++)
		if (closing->sheets[i].side == other)
			doubt_if_together(sheet, &closing->sheets[i].sheet);
	for (size_t i = 0; i < closing->past_count; i++)
		if (closing->past[i].side == other &&
		    any_overlap(sheet, &closing->past[i].stay))
			doubt(sheet);
}

/* --- keeping ------------------------------------------------------------------------- */

struct mono
closing_need(const struct closing *closing, double stop_s, struct mono now)
{
	struct mono need = now;

	for (size_t i = 0; i < closing->count; i++) {
		struct mono one = sheet_need(&closing->sheets[i].sheet, stop_s);

		if (one.ns < need.ns)
			need = one;
	}
	return need;
}

void
closing_freeze(struct closing *closing, struct freeze *freeze, int sides)
{
	uint64_t count = closing->count;

	freeze_u64(freeze, &count);
	if (count > CLOSING_MAX) {
		freeze->failed = true;
		count = 0;
	}
	closing->count = (size_t)count;
	for (size_t i = 0; i < closing->count; i++) {
		struct closed *closed = &closing->sheets[i];

		freeze_int(freeze, &closed->side);
		freeze_sheet(freeze, &closed->sheet);
		if (closed->side < 0 || closed->side >= sides)
			freeze->failed = true;
	}
	count = closing->past_count;
	freeze_u64(freeze, &count);
	if (count > CLOSING_PAST) {
		freeze->failed = true;
		count = 0;
	}
	closing->past_count = (size_t)count;
	for (size_t i = 0; i < closing->past_count; i++) {
		freeze_int(freeze, &closing->past[i].side);
		freeze_stay(freeze, &closing->past[i].stay);
	}
}
