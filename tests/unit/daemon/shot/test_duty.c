/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Lines of every kind played as they are, with a bit turned round and with two bits
 * exchanged, in many rhythms.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include "tests/unit/daemon/shot/wires.h"
#include "tests/unit/near.h"
#include "tests/unit/seed.h"

static size_t
remarks(const struct plant *plant, struct duty_bit bits[BITS_MAX])
{
	size_t count = duty_bits(plant->duty, bits, BITS_MAX), found = 0;

	for (size_t i = 0; i < count; i++)
		found += bits[i].remark[0] != '\0';
	return found;
}

static void
print_remarks(const struct plant *plant, const struct rhythm *r, const char *what)
{
	struct duty_bit bits[BITS_MAX];
	size_t count = duty_bits(plant->duty, bits, BITS_MAX);

	fprintf(stderr, "%s, %s: move %.0f form %.0f sag %.0f wait %.0f load %.0f\n",
	    plant->kind->name, what, r->move_s, r->form_s, r->sag_s, r->wait_s,
	    r->load_s);
	for (size_t i = 0; i < count; i++)
		fprintf(stderr, "  %-22s %3.0f %% %.1f  %s\n",
		    plant->channels[bits[i].channel].name, 100.0 * bits[i].on,
		    bits[i].changes, bits[i].remark);
}

/* Bits that are wired: all but the counter. */
static int
wired(const struct kind *kind)
{
	return kind->bits[kind->bit_count - 1].role == ROLE_CYCLE_COUNT
	           ? kind->bit_count - 1
	           : kind->bit_count;
}

static void
a_sound_line_draws_no_remark(void **state)
{
	(void)state;
	srand(seed_take(20260302));
	for (int i = 0; i < 30 * KINDS; i++) {
		struct rhythm r = any_rhythm(i / KINDS % 2);
		struct duty_bit bits[BITS_MAX];
		struct plant plant;

		plant_init(&plant, kinds[i % KINDS]);
		plant_run(&plant, &r);
		assert_int_equal(duty_cycles(plant.duty), DUTY_CYCLES);
		if (remarks(&plant, bits) != 0) {
			print_remarks(&plant, &r, r.odd ? "odd" : "sound");
			fail_msg("a remark on a sound line");
		}
		plant_release(&plant);
	}
}

static void
a_side_that_stands_draws_no_remark(void **state)
{
	(void)state;
	srand(seed_take(20260302));
	for (int i = 0; i < 5; i++) {
		struct rhythm r = any_rhythm(false);
		struct duty_bit bits[BITS_MAX];
		struct plant plant;

		plant_init(&plant, &two_sides);
		carriages_run(&plant, &r, 1);
		assert_int_equal(remarks(&plant, bits), 0);
		plant_release(&plant);
	}
}

/* Bits a and b exchanged, or a turned round when they are one; whether that is told and
 * nothing else is. */
static bool
is_found(const struct kind *kind, const struct rhythm *r, int a, int b)
{
	struct duty_bit bits[BITS_MAX];
	struct plant plant;
	char to_a[80], to_b[80], what[120];
	size_t count;
	bool found;

	plant_init(&plant, kind);
	plant.flip[a] = a == b;
	plant.source[a] = b;
	plant.source[b] = a;
	plant_run(&plant, r);
	snprintf(to_a, sizeof(to_a), "swapped with '%s'", kind->bits[a].name);
	snprintf(to_b, sizeof(to_b), "swapped with '%s'", kind->bits[b].name);
	count = remarks(&plant, bits);
	if (a == b)
		found = count == 1 && strstr(bits[a].remark, "looks inverted");
	else /* told of both, or as the second thing that one of them can be */
		found =
		    (strstr(bits[a].remark, to_b) || strstr(bits[b].remark, to_a)) &&
		    count == (size_t)(bits[a].remark[0] != '\0') +
				 (bits[b].remark[0] != '\0');
	snprintf(
	    what, sizeof(what), "%s for %s", kind->bits[a].name, kind->bits[b].name);
	if (!found && kind->sides == 1)
		print_remarks(&plant, r, what);
	plant_release(&plant);
	return found;
}

/* Two bits that go together, so that nobody can tell, and no feature suffers. */
static bool
are_alike(const struct kind *kind, const struct rhythm *r, int a, int b)
{
	enum role one = kind->bits[a].role, other = kind->bits[b].role;

	if (one == ROLE_SHEET_AT_LOAD && other == ROLE_SHEET_AT_FORM)
		return r->part_seen; /* both see a sheet nearly all the time */
	return one == ROLE_CLAMP_CLOSED && other == ROLE_SHEET_IN_FRAME &&
	       kind->bits[a].side == kind->bits[b].side;
}

static void
every_bit_turned_round_and_every_pair_exchanged_is_told(void **state)
{
	static const struct kind *const told[] = {&rotary, &shuttle, &single};
	int tried = 0, missed = 0;

	(void)state;
	srand(seed_take(20260302));
	for (int i = 0; i < 12; i++) {
		const struct kind *kind = told[i % 3];
		struct rhythm r = any_rhythm(false);

		for (int a = 0; a < wired(kind); a++)
			for (int b = a; b < wired(kind); b++)
				if (!are_alike(kind, &r, a, b)) {
					tried++;
					missed += !is_found(kind, &r, a, b);
				}
	}
	assert_true(tried > 250);
	assert_true(100 * missed <= tried); /* a rare rhythm hides what is wrong */
}

/* Where two sides take turns in step, one's forming may look like the other's heating. */
static void
nearly_every_wrong_wire_between_two_sides_is_told(void **state)
{
	int tried = 0, missed = 0;

	(void)state;
	srand(seed_take(20260302));
	for (int i = 0; i < 3; i++) {
		struct rhythm r = any_rhythm(false);

		for (int a = 0; a < two_sides.bit_count; a++)
			for (int b = a; b < two_sides.bit_count; b++)
				if (!are_alike(&two_sides, &r, a, b)) {
					tried++;
					missed += !is_found(&two_sides, &r, a, b);
				}
	}
	assert_true(tried > 150);
	assert_true(20 * missed <= tried);
}

/* A ring that is told by its counter alone shows less: not when the frames move. */
static void
without_a_moving_bit_a_wrong_automatic_is_still_told(void **state)
{
	struct rhythm r = any_rhythm(false);

	(void)state;
	assert_true(is_found(&counted, &r, 2, 2));
	assert_true(is_found(&counted, &r, 2, 3));
	assert_true(is_found(&counted, &r, 0, 2));
}

static void
a_bit_that_never_changes_is_told(void **state)
{
	(void)state;
	srand(seed_take(20260302));
	for (int k = 0; k < KINDS; k++)
		for (int a = 0; a < wired(kinds[k]); a++) {
			enum role role = kinds[k]->bits[a].role;
			struct rhythm r = any_rhythm(false);
			struct duty_bit bits[BITS_MAX];
			struct plant plant;

			if (role == ROLE_AUTOMATIC || role == ROLE_FAULT)
				continue; /* these may stand for ever */
			plant_init(&plant, kinds[k]);
			plant.stuck[a] = true;
			plant_run(&plant, &r);
			remarks(&plant, bits);
			if (strstr(bits[a].remark, "never changes") == NULL &&
			    role != ROLE_SHEET_AT_FORM) {
				print_remarks(&plant, &r, kinds[k]->bits[a].name);
				fail_msg("stuck and not told");
			}
			assert_true(bits[a].remark[0] != '\0');
			assert_false(bits[a].changes > 0.0);
			plant_release(&plant);
		}
}

static void
nothing_is_said_before_there_are_cycles_enough(void **state)
{
	struct rhythm r = any_rhythm(false);
	struct duty_bit bits[BITS_MAX];
	struct plant plant;

	(void)state;
	plant_init(&plant, &rotary);
	assert_int_equal(duty_bits(plant.duty, bits, BITS_MAX), 7);
	assert_false(bits[0].known);
	assert_true(isnan(bits[0].on) && isnan(bits[0].changes));
	plant.flip[0] = plant.flip[1] = true;
	run(&plant, 30.0);
	for (int i = 0; i < 4; i++)
		ring_cycle(&plant, &r, true);
	assert_int_equal(remarks(&plant, bits), 0);
	for (int i = 0; i < 4; i++)
		ring_cycle(&plant, &r, true);
	assert_int_not_equal(remarks(&plant, bits), 0);
	plant_release(&plant);
}

static void
shares_and_changes_are_those_of_whole_cycles(void **state)
{
	/* 8 s of 80 s: moving; 40 s: platens closed; from 60 s on: sagged. */
	struct duty_bit bits[BITS_MAX];
	struct plant plant;

	(void)state;
	plant_init(&plant, &rotary);
	run(&plant, 30.0);
	for (int i = 0; i < 13; i++)
		for (int t = 0; t < 80; t++) {
			plant.truth[ROLE_ROTATING][0] = t < 8;
			plant.truth[ROLE_FORM_CLOSED][0] = t >= 12 && t < 52;
			plant.truth[ROLE_SAG_EYE][0] = t >= 60;
			run(&plant, 1.0);
		}
	duty_bits(plant.duty, bits, BITS_MAX);
	assert_near(bits[0].on, 0.1, 1e-9);
	assert_near(bits[1].on, 0.5, 1e-9);
	assert_near(bits[2].on, 0.25, 1e-9);
	assert_near(bits[5].on, 1.0, 1e-9);
	for (int i = 0; i < 3; i++)
		assert_near(bits[i].changes, 2.0, 1e-9);
	assert_near(bits[5].changes, 0.0, 0.0);
	assert_true(bits[0].known && !bits[0].level && bits[2].level);
	plant_release(&plant);
}

static void
a_silence_is_no_level(void **state)
{
	struct duty_bit bits[BITS_MAX];
	struct plant plant;

	(void)state;
	plant_init(&plant, &rotary);
	plant.truth[ROLE_FORM_CLOSED][0] = true;
	run(&plant, 10.0);
	plant.truth[ROLE_FORM_CLOSED][0] = false;
	run(&plant, 10.0);
	for (int i = 0; i < 2000; i++)
		poll_as(&plant, QUALITY_COMM_FAULT);
	duty_bits(plant.duty, bits, BITS_MAX);
	assert_false(bits[1].known);
	assert_near(bits[1].on, 0.4, 0.05); /* of 10 s on and 10 s off, and 5 s more */
	plant_release(&plant);
}

static void
a_number_is_a_bit_by_its_thresholds(void **state)
{
	struct duty_bit bits[BITS_MAX];
	struct plant plant;

	(void)state;
	plant_init(&plant, &rotary);
	plant.channels[1].on_si = 0.3; /* on when low */
	plant.channels[1].off_si = 0.7;
	run(&plant, 2.0);
	duty_bits(plant.duty, bits, BITS_MAX);
	assert_true(bits[1].level);
	plant.truth[ROLE_FORM_CLOSED][0] = true;
	run(&plant, 2.0);
	duty_bits(plant.duty, bits, BITS_MAX);
	assert_false(bits[1].level);
	plant_release(&plant);
}

static void
a_bit_that_flutters_for_ever_takes_no_more_memory(void **state)
{
	struct duty_bit bits[BITS_MAX];
	struct plant plant;

	(void)state;
	plant_init(&plant, &rotary);
	for (int i = 0; i < 100000; i++) {
		plant.truth[ROLE_SHEET_AT_LOAD][0] = i % 2;
		poll_as(&plant, QUALITY_GOOD);
	}
	assert_int_equal(duty_bits(plant.duty, bits, 2), 7);
	assert_int_equal(remarks(&plant, bits), 0); /* the line stands */
	plant_release(&plant);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_sound_line_draws_no_remark),
	    cmocka_unit_test(a_side_that_stands_draws_no_remark),
	    cmocka_unit_test(every_bit_turned_round_and_every_pair_exchanged_is_told),
	    cmocka_unit_test(nearly_every_wrong_wire_between_two_sides_is_told),
	    cmocka_unit_test(without_a_moving_bit_a_wrong_automatic_is_still_told),
	    cmocka_unit_test(a_bit_that_never_changes_is_told),
	    cmocka_unit_test(nothing_is_said_before_there_are_cycles_enough),
	    cmocka_unit_test(shares_and_changes_are_those_of_whole_cycles),
	    cmocka_unit_test(a_silence_is_no_level),
	    cmocka_unit_test(a_number_is_a_bit_by_its_thresholds),
	    cmocka_unit_test(a_bit_that_flutters_for_ever_takes_no_more_memory),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
