/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Lines of every kind played as they are, with a bit turned round and with two bits
 * exchanged, in many rhythms.  Machines invented; their times are common practice, no source.
 */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "tests/unit/near.h"
#include "tests/unit/seed.h"
#include "conf/settings.h"
#include "daemon/base/scan.h"
#include "daemon/shot/duty.h"

enum { BITS_MAX = 16, CYCLES = 14, STEP_MS = 500 };

/* --- a line and its wires --- */

struct line_part {
	const char *name;
	enum role role;
	int side;
};

struct kind {
	const char *name;
	enum machine machine;
	int sides, bit_count;
	struct line_part bits[BITS_MAX];
};

static const struct kind rotary = {"rotary", MACHINE_ROTARY, 1, 7,
    {{"rotating", ROLE_ROTATING, -1}, {"form_closed", ROLE_FORM_CLOSED, -1},
	{"sag_eye", ROLE_SAG_EYE, -1}, {"sheet_at_load", ROLE_SHEET_AT_LOAD, -1},
	{"sheet_at_form", ROLE_SHEET_AT_FORM, -1}, {"automatic", ROLE_AUTOMATIC, -1},
	{"fault", ROLE_FAULT, -1}}};
static const struct kind counted = {"counted", MACHINE_ROTARY, 1, 5,
    {{"form_closed", ROLE_FORM_CLOSED, -1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1},
	{"cycle_count", ROLE_CYCLE_COUNT, -1}}};
static const struct kind shuttle = {"shuttle", MACHINE_SHUTTLE, 1, 7,
    {{"oven_in", ROLE_OVEN_IN, -1}, {"clamp_closed", ROLE_CLAMP_CLOSED, -1},
	{"form_closed", ROLE_FORM_CLOSED, -1},
	{"sheet_in_frame", ROLE_SHEET_IN_FRAME, -1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1}}};
static const struct kind single = {"single", MACHINE_SINGLE, 1, 6,
    {{"oven_in", ROLE_OVEN_IN, -1}, {"clamp_closed", ROLE_CLAMP_CLOSED, -1},
	{"form_closed", ROLE_FORM_CLOSED, -1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1}}};
static const struct kind two_sides = {"two sides", MACHINE_SHUTTLE, 2, 11,
    {{"oven_in_left", ROLE_OVEN_IN, 0}, {"clamp_left", ROLE_CLAMP_CLOSED, 0},
	{"form_left", ROLE_FORM_CLOSED, 0},
	{"sheet_in_frame_left", ROLE_SHEET_IN_FRAME, 0},
	{"oven_in_right", ROLE_OVEN_IN, 1}, {"clamp_right", ROLE_CLAMP_CLOSED, 1},
	{"form_right", ROLE_FORM_CLOSED, 1},
	{"sheet_in_frame_right", ROLE_SHEET_IN_FRAME, 1}, {"sag_eye", ROLE_SAG_EYE, -1},
	{"automatic", ROLE_AUTOMATIC, -1}, {"fault", ROLE_FAULT, -1}}};
static const struct kind *const kinds[] = {
    &rotary, &counted, &shuttle, &single, &two_sides};
enum { KINDS = sizeof(kinds) / sizeof(kinds[0]) };

struct plant {
	const struct kind *kind;
	struct settings settings;
	struct line_settings line;
	struct device_settings device;
	struct channel_settings channels[BITS_MAX];
	struct duty *duty;
	int64_t now_ms;
	bool truth[ROLE_COUNT][SETTINGS_SIDES]; /* what is so, by role and side */
	int64_t count, oven_free_ms;
	int source[BITS_MAX]; /* whose truth a bit shows */
	bool flip[BITS_MAX], stuck[BITS_MAX];
};

static void
plant_init(struct plant *plant, const struct kind *kind)
{
	memset(plant, 0, sizeof(*plant));
	plant->kind = kind;
	plant->line.machine = kind->machine;
	plant->line.side_count = kind->sides;
	plant->line.oven_count = 1;
	plant->line.heat_min_s = 30.0;
	plant->device.period_s = STEP_MS / 1000.0;
	plant->device.channel_count = (uint32_t)kind->bit_count;
	for (int i = 0; i < kind->bit_count; i++) {
		struct channel_settings *channel = &plant->channels[i];

		snprintf(
		    channel->name, sizeof(channel->name), "%s", kind->bits[i].name);
		channel->role = kind->bits[i].role;
		channel->side = kind->bits[i].side;
		channel->on_si = channel->off_si = NAN;
		channel->debounce_s = channel->role == ROLE_SAG_EYE ? 0.4 : 0.0;
		plant->source[i] = i;
	}
	plant->settings.lines = &plant->line;
	plant->settings.line_count = 1;
	plant->settings.devices = &plant->device;
	plant->settings.device_count = 1;
	plant->settings.channels = plant->channels;
	plant->settings.channel_count = (size_t)kind->bit_count;
	plant->duty = duty_new(&plant->settings, 0);
	assert_non_null(plant->duty);
	plant->truth[ROLE_AUTOMATIC][0] = plant->truth[ROLE_AUTOMATIC][1] = true;
}

static void
plant_release(struct plant *plant)
{
	duty_free(plant->duty);
}

static double
shown(const struct plant *plant, int bit)
{
	const struct line_part *part = &plant->kind->bits[plant->source[bit]];

	if (plant->kind->bits[bit].role == ROLE_CYCLE_COUNT)
		return (double)plant->count;
	if (plant->stuck[bit])
		return plant->flip[bit];
	return plant->truth[part->role][part->side < 0 ? 0 : part->side] !=
	       plant->flip[bit];
}

/* One poll; `absent` in place of values. */
static void
poll_as(struct plant *plant, enum quality quality)
{
	struct scan *scan = calloc(1, scan_bytes((uint32_t)plant->kind->bit_count));

	plant->now_ms += STEP_MS;
	scan->sent.ns = scan->at.ns = plant->now_ms * 1000000;
	scan->count = (uint32_t)plant->kind->bit_count;
	for (int i = 0; i < plant->kind->bit_count; i++) {
		scan->readings[i].quality = quality;
		scan->readings[i].value =
		    quality == QUALITY_GOOD ? shown(plant, i) : NAN;
	}
	duty_scan(plant->duty, scan);
	free(scan);
}

static void
run(struct plant *plant, double seconds)
{
	for (int64_t end = plant->now_ms + (int64_t)(seconds * 1000.0);
	     plant->now_ms < end;)
		poll_as(plant, QUALITY_GOOD);
}

/* --- how machines go --- */

static double
between(double least, double most)
{
	return least + (most - least) * rand() / RAND_MAX;
}

static bool
one_in(int n)
{
	return rand() % n == 0;
}

struct rhythm {
	double move_s, close_s, form_s, sag_s, wait_s, load_s;
	bool part_seen; /* the eye at the load station sees the part that comes round */
	bool odd;       /* now and then something is not as usual */
};

static struct rhythm
any_rhythm(bool odd)
{
	return (struct rhythm){.move_s = between(4, 14),
	    .close_s = between(2, 6),
	    .form_s = between(25, 240),
	    .sag_s = between(45, 400),
	    .wait_s = between(2, 60),
	    .load_s = between(25, 90),
	    .part_seen = one_in(2),
	    .odd = odd};
}

/* A stop, a fault, a while in manual, a silence. */
static void
trouble(struct plant *plant)
{
	switch (rand() % 4) {
	case 0:
		run(plant, between(60, 1800));
		break;
	case 1:
		plant->truth[ROLE_FAULT][0] = true;
		run(plant, between(20, 300));
		plant->truth[ROLE_FAULT][0] = false;
		break;
	case 2:
		plant->truth[ROLE_AUTOMATIC][0] = false;
		run(plant, between(20, 300));
		plant->truth[ROLE_AUTOMATIC][0] = true;
		break;
	default:
		for (int i = 0; i < 60; i++)
			poll_as(plant, QUALITY_COMM_FAULT);
		break;
	}
}

/* One step and the stay after it; `formed`: a sheet comes to the form station. */
static void
ring_cycle(struct plant *plant, const struct rhythm *r, bool formed)
{
	double form_s = formed ? r->form_s * between(0.98, 1.02) : 0.0;
	double sag_s = r->sag_s * between(0.9, 1.1);
	double load_s = r->load_s * between(0.5, 2.0);
	double end_s =
	    fmax(fmax(r->close_s + form_s + 2.0, sag_s + r->wait_s), load_s + 2.0);
	bool(*truth)[SETTINGS_SIDES] = plant->truth;
	bool timer = r->odd && one_in(10);

	truth[ROLE_ROTATING][0] = true;
	run(plant, 1.0);
	truth[ROLE_SAG_EYE][0] = truth[ROLE_SHEET_AT_FORM][0] = false;
	run(plant, r->move_s - 1.0);
	truth[ROLE_ROTATING][0] = false;
	truth[ROLE_SHEET_AT_FORM][0] = formed;
	truth[ROLE_SHEET_AT_LOAD][0] = r->part_seen && formed;
	plant->count++;
	for (double t = 0.0; t < end_s; t += 0.5) {
		truth[ROLE_FORM_CLOSED][0] =
		    formed && t >= r->close_s && t < r->close_s + form_s;
		truth[ROLE_SAG_EYE][0] = !timer && t >= sag_s;
		if (t >= 0.3 * load_s)
			truth[ROLE_SHEET_AT_LOAD][0] = t >= load_s;
		run(plant, 0.5);
	}
	if (r->odd && one_in(12))
		trouble(plant);
}

/* A frame of its own: what its sheet does next, and when. */
struct carriage {
	int side, phase;
	double left_s;
};

/* The next phase of a carriage, unless it must wait for the oven. */
static void
carriage_next(struct plant *plant, const struct rhythm *r, struct carriage *c)
{
	bool(*truth)[SETTINGS_SIDES] = plant->truth;
	bool stays = plant->kind->machine == MACHINE_SINGLE;
	int s = c->side;

	switch (c->phase++) {
	case 0: /* a sheet is laid in */
		truth[ROLE_SHEET_IN_FRAME][s] = true;
		c->left_s = between(2, 5);
		break;
	case 1:
		truth[ROLE_CLAMP_CLOSED][s] = true;
		c->left_s = between(2, 8);
		break;
	case 2:
		if (truth[ROLE_OVEN_IN][0] || truth[ROLE_OVEN_IN][1] ||
		    plant->now_ms < plant->oven_free_ms) {
			c->phase--;
			break;
		}
		truth[ROLE_OVEN_IN][s] = true;
		c->left_s = r->sag_s * between(0.9, 1.1);
		break;
	case 3:
		truth[ROLE_SAG_EYE][0] = !r->odd || !one_in(10);
		c->left_s = r->wait_s * between(0.9, 1.1);
		break;
	case 4:
		truth[ROLE_OVEN_IN][s] = false;
		plant->oven_free_ms = plant->now_ms + (int64_t)(1000.0 * r->move_s);
		if (!stays) /* on a single station the eye goes on seeing the sag */
			truth[ROLE_SAG_EYE][0] = false;
		c->left_s = r->move_s;
		break;
	case 5:
		truth[ROLE_FORM_CLOSED][s] = !r->odd || !one_in(10);
		if (stays)
			truth[ROLE_SAG_EYE][0] = false;
		c->left_s = r->form_s * between(0.98, 1.02);
		break;
	case 6:
		truth[ROLE_FORM_CLOSED][s] = false;
		c->left_s = between(2, 5);
		break;
	case 7:
		truth[ROLE_CLAMP_CLOSED][s] = false;
		c->left_s = between(2, 6);
		break;
	default:
		truth[ROLE_SHEET_IN_FRAME][s] = false;
		c->left_s = r->load_s * between(0.5, 2.0);
		c->phase = 0;
		break;
	}
}

/* The first `working` sides go. */
static void
carriages_run(struct plant *plant, const struct rhythm *r, int working)
{
	struct carriage carriages[SETTINGS_SIDES] = {{0, 0, 1.0}, {1, 0, 30.0}};
	int done = 0;

	while (done < CYCLES) {
		for (int s = 0; s < working; s++) {
			struct carriage *c = &carriages[s];
			int before = c->phase;

			c->left_s -= 0.5;
			if (c->left_s > 0.0)
				continue;
			carriage_next(plant, r, c);
			done += s == 0 && before > c->phase;
			if (r->odd && before != c->phase && one_in(80))
				trouble(plant);
		}
		run(plant, 0.5);
	}
}

static void
plant_run(struct plant *plant, const struct rhythm *r)
{
	if (plant->kind->machine != MACHINE_ROTARY)
		carriages_run(plant, r, plant->kind->sides);
	else
		for (int i = 0; i < CYCLES; i++)
			ring_cycle(plant, r, i > 1 && !(r->odd && one_in(8)));
}

/* --- what is said --- */

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

		for (int a = 0; a < kind->bit_count; a++)
			for (int b = a; b < kind->bit_count; b++)
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
