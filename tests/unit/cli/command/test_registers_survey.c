/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/registers_survey.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <cmocka.h>

#include "daemon/base/error.h"
#include "daemon/fieldbus/frame.h"
#include "tests/unit/seed.h"

enum { ADDRESSES = 400 };

/* A device in an array: what it has, how much it gives at once, what it does else. */
struct device {
	bool there[ADDRESSES];
	uint16_t words[ADDRESSES];
	uint32_t most; /* registers at once */
	enum answer refusal, always;
	const char *text;
	uint32_t asked;
	uint32_t busy; /* so many requests first */
	int border;    /* no request crosses it; 0: none */
};

static enum answer
read_device(
    void *arg, const struct read_block *block, uint16_t *words, struct error *error)
{
	struct device *device = arg;
	uint32_t end = (uint32_t)block->first + block->count;
	bool there = block->count <= device->most;

	device->asked++;
	assert_in_range(block->count, 1, 2000);
	error_set(error, ERROR_REFUSED, "%s", device->text);
	if (device->always != ANSWER_GOOD)
		return device->always;
	if (device->busy > 0 && device->busy--)
		return ANSWER_BUSY;
	for (uint32_t i = block->first; i < end; i++)
		there &= i < ADDRESSES && device->there[i];
	if (device->border > block->first && (uint32_t)device->border < end)
		there = false;
	if (!there)
		return device->refusal;
	for (uint32_t i = 0; i < block->count; i++)
		words[i] = device->words[block->first + i];
	return ANSWER_GOOD;
}

static void
make(struct device *device)
{
	*device = (struct device){
	    .most = 125,
	    .refusal = ANSWER_ILLEGAL,
	    .text = "exception 2, illegal data address",
	};
	for (int i = 0; i < ADDRESSES; i++) {
		device->there[i] = true;
		device->words[i] = (uint16_t)(i * 7);
	}
}

static void
take_away(struct device *device, int first, int last)
{
	for (int i = first; i <= last; i++)
		device->there[i] = false;
}

static enum answer
look(struct device *device, struct survey *survey)
{
	const struct survey_port port = {read_device, device};
	struct error error;

	return survey_run(survey, &port, &error);
}

static void
a_block_without_holes_takes_a_request_a_part(void **state)
{
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	assert_true(survey_init(&survey, TABLE_HOLDING, 10, 260, 125));
	assert_int_equal(look(&device, &survey), ANSWER_GOOD);
	assert_int_equal(survey.requests, 3);
	assert_int_equal(survey.block_count, 3);
	assert_false(survey.parted);
	for (uint32_t i = 0; i < 260; i++) {
		assert_int_equal(survey.registers[i].state, SURVEY_THERE);
		assert_int_equal(survey.registers[i].word, (10 + i) * 7);
	}
	survey_release(&survey);
}

/* Whatever is there and not: told register by register, and none is asked for twice. */
static void
holes_are_found_wherever_they_are(void **state)
{
	(void)state;
	srand48(seed_take(1));
	for (int round = 0; round < 200; round++) {
		struct device device;
		struct survey survey;

		make(&device);
		for (long holes = lrand48() % 6; holes > 0; holes--) {
			int first = (int)(lrand48() % 150);
			take_away(&device, first, first + (int)(lrand48() % 20));
		}
		uint16_t first = (uint16_t)(lrand48() % 40);
		uint32_t count = (uint32_t)(1 + lrand48() % 120);
		assert_true(survey_init(&survey, TABLE_INPUT, first, count,
		    (uint32_t)(1 + lrand48() % 125)));
		assert_int_equal(look(&device, &survey), ANSWER_GOOD);
		assert_in_range(survey.requests, 1, 2 * count - 1);
		uint32_t told = 0;
		for (size_t i = 0; i < survey.block_count; i++)
			told += survey.blocks[i].count;
		for (uint32_t i = 0; i < count; i++) {
			bool there = device.there[first + i];
			assert_int_equal(survey.registers[i].state,
			    there ? SURVEY_THERE : SURVEY_REFUSED);
			if (there)
				assert_int_equal(
				    survey.registers[i].word, device.words[first + i]);
			told -= there;
		}
		assert_int_equal(told, 0);
		survey_release(&survey);
	}
}

static void
a_device_that_gives_less_at_once_is_asked_for_less(void **state)
{
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	device.most = 32;
	assert_true(survey_init(&survey, TABLE_HOLDING, 0, 300, 125));
	assert_int_equal(look(&device, &survey), ANSWER_GOOD);
	for (uint32_t i = 0; i < 300; i++)
		assert_int_equal(survey.registers[i].state, SURVEY_THERE);
	assert_true(survey.parted);
	assert_int_equal(survey.part, 32);
	/* 125, 63, 32, 31, 47, 39, 35, 33, 62, 31, 31, and then 32 at a time */
	assert_int_equal(survey.requests, 11 + 6);
	survey_release(&survey);
}

/* Whatever the limit, and wherever the halves fall. */
static void
as_many_as_the_device_gives_are_found_exactly(void **state)
{
	(void)state;
	for (uint32_t most = 1; most < 125; most++)
		for (uint32_t part = most + 1; part <= 125; part += 7) {
			struct device device;
			struct survey survey;
			make(&device);
			device.most = most;
			assert_true(survey_init(&survey, TABLE_HOLDING, 0, part, part));
			assert_int_equal(look(&device, &survey), ANSWER_GOOD);
			assert_int_equal(survey_same(&survey, 0), part);
			assert_int_equal(survey.registers[0].state, SURVEY_THERE);
			assert_int_equal(survey.part, most);
			survey_release(&survey);
		}
}

static void
a_border_that_no_request_may_cross_is_no_hole(void **state)
{
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	device.border = 50;
	assert_true(survey_init(&survey, TABLE_HOLDING, 0, 100, 100));
	assert_int_equal(look(&device, &survey), ANSWER_GOOD);
	assert_true(survey.parted);
	assert_int_equal(survey.refused_whole.first, 0);
	assert_int_equal(survey.refused_whole.count, 100);
	assert_int_equal(survey_same(&survey, 0), 100);
	survey_release(&survey);
}

static void
a_device_that_is_not_there_is_asked_once(void **state)
{
	static const enum answer rows[] = {
	    ANSWER_NONE, ANSWER_WRONG, ANSWER_LOST, ANSWER_GATEWAY};

	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof rows[0]; i++) {
		struct device device;
		struct survey survey;
		make(&device);
		device.always = rows[i];
		assert_true(survey_init(&survey, TABLE_HOLDING, 0, 300, 125));
		assert_int_equal(look(&device, &survey), rows[i]);
		assert_int_equal(survey.requests, 1);
		assert_false(survey.answered);
		assert_int_equal(survey.registers[0].state, SURVEY_SILENT);
		assert_int_equal(survey.registers[299].state, SURVEY_OPEN);
		survey_release(&survey);
	}
}

/* Modbus Application Protocol V1.1b3, 7: exception 1 to function 4 is 84 01. */
static void
a_function_that_the_device_does_not_know_ends_it(void **state)
{
	static const uint8_t reply[] = {0, 0, 0, 0, 0, 3, 1, 0x84, 1};
	const struct frame_request request = {.kind = BUS_TCP,
	    .unit_id = 1,
	    .block = {.table = TABLE_INPUT, .first = 0, .count = 20}};
	struct device device;
	struct survey survey;
	struct error error;
	uint16_t words[20];

	(void)state;
	make(&device);
	device.always = frame_read_reply(&request, reply, sizeof reply, words, &error);
	assert_int_equal(device.always, ANSWER_ILLEGAL);
	device.text = error.text;
	assert_true(survey_init(&survey, TABLE_INPUT, 0, 20, 20));
	assert_int_equal(look(&device, &survey), ANSWER_ILLEGAL);
	assert_int_equal(survey.requests, 1);
	assert_true(survey.answered);
	survey_release(&survey);
}

/* Some devices say nothing where they have nothing. */
static void
silence_in_place_of_a_refusal_ends_it_soon(void **state)
{
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	device.refusal = ANSWER_NONE;
	take_away(&device, 30, 399);
	assert_true(survey_init(&survey, TABLE_HOLDING, 0, 100, 20));
	assert_int_equal(look(&device, &survey), ANSWER_NONE);
	assert_int_equal(survey.silences, 4);
	assert_int_equal(survey.registers[29].state, SURVEY_THERE);
	assert_int_equal(survey.registers[99].state, SURVEY_OPEN);
	survey_release(&survey);
}

static void
requests_are_bounded(void **state)
{
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	take_away(&device, 0, 399);
	assert_true(survey_init(&survey, TABLE_HOLDING, 0, 400, 125));
	survey.requests_most = 50;
	assert_int_equal(look(&device, &survey), ANSWER_GOOD);
	assert_int_equal(survey.requests, 50);
	assert_int_equal(device.asked, 50);
	assert_int_equal(survey.registers[0].state, SURVEY_REFUSED);
	assert_int_equal(survey.registers[399].state, SURVEY_OPEN);
	survey_release(&survey);
}

static void
a_device_that_is_busy_is_asked_again(void **state)
{
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	device.busy = 2;
	assert_true(survey_init(&survey, TABLE_HOLDING, 0, 10, 10));
	assert_int_equal(look(&device, &survey), ANSWER_GOOD);
	assert_int_equal(survey.requests, 3);
	assert_int_equal(survey_same(&survey, 0), 10);
	assert_int_equal(survey.registers[0].state, SURVEY_THERE);
	survey_release(&survey);
}

static void
a_device_that_stays_busy_is_not_taken_for_one_without_registers(void **state)
{
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	device.busy = 1000;
	assert_true(survey_init(&survey, TABLE_HOLDING, 0, 20, 20));
	assert_int_equal(look(&device, &survey), ANSWER_BUSY);
	assert_int_equal(survey.requests, 4);
	assert_int_equal(survey.registers[0].state, SURVEY_OPEN);
	assert_int_equal(survey_same(&survey, 0), 20);
	survey_release(&survey);
}

static void
a_device_that_fails_is_not_taken_for_one_without_registers(void **state)
{
	(void)state;
	for (uint32_t count = 1; count <= 125; count++) {
		struct device device;
		struct survey survey;
		make(&device);
		device.always = ANSWER_FAULT;
		assert_true(survey_init(&survey, TABLE_HOLDING, 0, count, 125));
		assert_int_equal(look(&device, &survey), ANSWER_FAULT);
		assert_in_range(survey.requests, 1, 5);
		for (uint32_t i = 0; i < count; i++)
			assert_int_not_equal(survey.registers[i].state, SURVEY_REFUSED);
		survey_release(&survey);
	}
}

/* Some devices answer so for what they have not. */
static void
a_register_that_fails_hides_no_other(void **state)
{
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	device.refusal = ANSWER_FAULT;
	take_away(&device, 13, 13);
	assert_true(survey_init(&survey, TABLE_HOLDING, 0, 20, 20));
	assert_int_equal(look(&device, &survey), ANSWER_GOOD);
	for (uint32_t i = 0; i < 20; i++)
		assert_int_equal(
		    survey.registers[i].state, i == 13 ? SURVEY_FAILED : SURVEY_THERE);
	survey_release(&survey);
}

static void
what_the_set_up_calls_a_hole_is_never_asked_for(void **state)
{
	const struct hole holes[] = {
	    {TABLE_HOLDING, 14, 19}, {TABLE_INPUT, 0, 399}, {TABLE_HOLDING, 38, 60}};
	struct device device;
	struct survey survey;

	(void)state;
	make(&device);
	/* asked for, they would be refused and halved */
	take_away(&device, 14, 19);
	take_away(&device, 38, 60);
	assert_true(survey_init(&survey, TABLE_HOLDING, 10, 30, 125));
	for (size_t i = 0; i < 3; i++)
		survey_bar(&survey, &holes[i]);
	assert_int_equal(look(&device, &survey), ANSWER_GOOD);
	assert_int_equal(survey.requests, 2);
	assert_int_equal(survey.registers[3].state, SURVEY_THERE);
	assert_int_equal(survey.registers[4].state, SURVEY_BARRED);
	assert_int_equal(survey.registers[9].state, SURVEY_BARRED);
	assert_int_equal(survey.registers[10].state, SURVEY_THERE);
	assert_int_equal(survey.registers[29].state, SURVEY_BARRED);
	survey_release(&survey);
}

static void
what_moves_is_told_from_what_stays(void **state)
{
	struct device device;
	struct survey survey;
	const struct survey_port port = {read_device, &device};
	struct error error;

	(void)state;
	make(&device);
	take_away(&device, 3, 3);
	device.words[1] = 5;
	assert_true(survey_init(&survey, TABLE_HOLDING, 0, 8, 8));
	assert_int_equal(look(&device, &survey), ANSWER_GOOD);
	uint32_t asked = device.asked;
	for (int i = 0; i < 4; i++) {
		device.words[1] = (uint16_t)(i % 2 ? 7 : -3);
		assert_int_equal(survey_again(&survey, &port, &error), ANSWER_GOOD);
	}
	/* holes are not asked for again */
	assert_int_equal(device.asked - asked, 4 * survey.block_count);
	assert_int_equal(survey.readings, 5);
	assert_int_equal(survey.registers[1].changes, 4);
	assert_int_equal(survey.registers[1].lowest, -3);
	assert_int_equal(survey.registers[1].highest, 7);
	assert_int_equal(survey.registers[1].least, 5);
	assert_int_equal(survey.registers[1].most, 65533);
	assert_int_equal(survey.registers[0].changes, 0);
	device.always = ANSWER_LOST;
	assert_int_equal(survey_again(&survey, &port, &error), ANSWER_LOST);
	assert_int_equal(survey.readings, 5);
	survey_release(&survey);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_block_without_holes_takes_a_request_a_part),
	    cmocka_unit_test(holes_are_found_wherever_they_are),
	    cmocka_unit_test(a_device_that_gives_less_at_once_is_asked_for_less),
	    cmocka_unit_test(as_many_as_the_device_gives_are_found_exactly),
	    cmocka_unit_test(a_border_that_no_request_may_cross_is_no_hole),
	    cmocka_unit_test(a_device_that_is_not_there_is_asked_once),
	    cmocka_unit_test(a_function_that_the_device_does_not_know_ends_it),
	    cmocka_unit_test(silence_in_place_of_a_refusal_ends_it_soon),
	    cmocka_unit_test(requests_are_bounded),
	    cmocka_unit_test(a_device_that_is_busy_is_asked_again),
	    cmocka_unit_test(
		a_device_that_stays_busy_is_not_taken_for_one_without_registers),
	    cmocka_unit_test(
		a_device_that_fails_is_not_taken_for_one_without_registers),
	    cmocka_unit_test(a_register_that_fails_hides_no_other),
	    cmocka_unit_test(what_the_set_up_calls_a_hole_is_never_asked_for),
	    cmocka_unit_test(what_moves_is_told_from_what_stays),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
