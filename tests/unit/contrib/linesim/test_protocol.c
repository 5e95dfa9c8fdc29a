/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The requests and answers are the examples of "MODBUS Application Protocol
 * Specification V1.1b3", sections 6.1 to 6.4, in the frames of "MODBUS Messaging on
 * TCP/IP Implementation Guide V1.0b" (both modbus.org).
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <string.h>

#include "contrib/linesim/protocol.h"
#include "contrib/linesim/registers.h"
#include "tests/unit/published.h"

static struct bank bank;
static struct protocol_counts counts;
static uint8_t answer[PROTOCOL_FRAME_MAX];

static void
serve_bits(enum table table, int first, const char *bits)
{
	for (int i = 0; bits[i] != '\0'; i++) {
		bank.word[table][first + i] = bits[i] == '1';
		bank.served[table][first + i] = true;
	}
}

static void
serve_word(enum table table, int address, uint16_t word)
{
	bank.word[table][address] = word;
	bank.served[table][address] = true;
}

static int
fill_bank(void **state)
{
	(void)state;
	memset(&bank, 0, sizeof bank);
	memset(&counts, 0, sizeof counts);
	bank.unit_id = 1;
	bank.registers_max = 125;
	serve_bits(TABLE_COIL, 0x13, "1011001111010110101");
	serve_bits(TABLE_DISCRETE, 0xc4, "0011010111011011101011");
	serve_word(TABLE_HOLDING, 0x6b, 555);
	serve_word(TABLE_HOLDING, 0x6c, 0);
	serve_word(TABLE_HOLDING, 0x6d, 100);
	serve_word(TABLE_INPUT, 8, 10);
	return 0;
}

#define EXPECT(request, ...)                                                          \
	do {                                                                          \
		const uint8_t expected[] = __VA_ARGS__;                               \
		assert_int_equal(protocol_answer(&bank, 0, request, answer, &counts), \
		    sizeof expected);                                                 \
		assert_memory_equal(answer, expected, sizeof expected);               \
	} while (0)

#define PUBLISHED(what, request, ...)                                                 \
	do {                                                                          \
		const uint8_t expected[] = __VA_ARGS__;                               \
		assert_int_equal(protocol_answer(&bank, 0, request, answer, &counts), \
		    sizeof expected);                                                 \
		published_same(                                                       \
		    SOURCE_MODBUS, what, answer, expected, sizeof expected);          \
	} while (0)

static void
reading_answers_the_published_examples(void **state)
{
	(void)state;
	const uint8_t coils[] = {0, 1, 0, 0, 0, 6, 1, 1, 0, 0x13, 0, 0x13};
	const uint8_t inputs[] = {0, 2, 0, 0, 0, 6, 1, 2, 0, 0xc4, 0, 0x16};
	const uint8_t holding[] = {0, 3, 0, 0, 0, 6, 1, 3, 0, 0x6b, 0, 3};
	const uint8_t input[] = {0, 4, 0, 0, 0, 6, 1, 4, 0, 8, 0, 1};

	PUBLISHED("the simulated line answers: coils 20 to 38, bytes alike", coils,
	    {0, 1, 0, 0, 0, 6, 1, 1, 3, 0xcd, 0x6b, 0x05});
	PUBLISHED("the simulated line answers: discrete inputs 197 to 218, bytes alike",
	    inputs, {0, 2, 0, 0, 0, 6, 1, 2, 3, 0xac, 0xdb, 0x35});
	PUBLISHED(
	    "the simulated line answers: holding registers 108 to 110, bytes alike",
	    holding, {0, 3, 0, 0, 0, 9, 1, 3, 6, 0x02, 0x2b, 0, 0, 0, 0x64});
	PUBLISHED("the simulated line answers: input register 9, bytes alike", input,
	    {0, 4, 0, 0, 0, 5, 1, 4, 2, 0, 0x0a});
	assert_int_equal(counts.refused, 0);
}

static void
a_hole_or_the_end_of_the_map_is_exception_2(void **state)
{
	(void)state;
	const uint8_t beyond[] = {0, 1, 0, 0, 0, 6, 1, 1, 0x04, 0xa1, 0, 1};
	const uint8_t hole[] = {0, 1, 0, 0, 0, 6, 1, 3, 0, 0x6c, 0, 3};
	const uint8_t wraps[] = {0, 1, 0, 0, 0, 6, 1, 3, 0xff, 0xff, 0, 125};

	EXPECT(beyond, {0, 1, 0, 0, 0, 3, 1, 0x81, 2});
	EXPECT(hole, {0, 1, 0, 0, 0, 3, 1, 0x83, 2});
	EXPECT(wraps, {0, 1, 0, 0, 0, 3, 1, 0x83, 2});
}

static void
a_count_that_cannot_be_is_exception_3(void **state)
{
	(void)state;
	uint8_t none[] = {0, 1, 0, 0, 0, 6, 1, 3, 0, 0x6b, 0, 0};
	uint8_t many[] = {0, 1, 0, 0, 0, 6, 1, 3, 0, 0x6b, 0, 126};
	uint8_t cut[] = {0, 1, 0, 0, 0, 4, 1, 3, 0, 0x6b};

	EXPECT(none, {0, 1, 0, 0, 0, 3, 1, 0x83, 3});
	EXPECT(many, {0, 1, 0, 0, 0, 3, 1, 0x83, 3});
	EXPECT(cut, {0, 1, 0, 0, 0, 3, 1, 0x83, 3});
	bank.registers_max = 2;
	many[11] = 3;
	EXPECT(many, {0, 1, 0, 0, 0, 3, 1, 0x83, 3});
}

static void
writing_is_refused_and_counted(void **state)
{
	(void)state;
	const uint8_t write[] = {0, 9, 0, 0, 0, 6, 1, 6, 0, 0x6b, 0, 3};

	EXPECT(write, {0, 9, 0, 0, 0, 3, 1, 0x86, 1});
	assert_int_equal(counts.refused, 1);
	assert_int_equal(counts.functions[6], 1);
	assert_int_equal(bank.word[TABLE_HOLDING][0x6b], 555);
}

static void
another_unit_and_a_silent_device_do_not_answer(void **state)
{
	(void)state;
	uint8_t request[] = {0, 1, 0, 0, 0, 6, 2, 3, 0, 0x6b, 0, 3};

	assert_int_equal(protocol_answer(&bank, 0, request, answer, &counts), 0);
	request[6] = 1;
	bank.silent_until = 10;
	assert_int_equal(protocol_answer(&bank, 9, request, answer, &counts), 0);
	assert_true(protocol_answer(&bank, 10, request, answer, &counts) > 0);
}

static void
a_device_in_trouble_answers_with_its_exception(void **state)
{
	(void)state;
	const uint8_t request[] = {0, 1, 0, 0, 0, 6, 1, 3, 0, 0x6b, 0, 3};

	bank.exception_until = 10;
	bank.exception_code = 11;
	EXPECT(request, {0, 1, 0, 0, 0, 3, 1, 0x83, 11});
}

static void
frames_are_cut_by_their_length(void **state)
{
	(void)state;
	uint8_t bytes[] = {0, 1, 0, 0, 0, 6, 1, 3, 0, 0x6b, 0, 3, 0, 2};

	assert_int_equal(protocol_frame_length(bytes, 3), 0);
	assert_int_equal(protocol_frame_length(bytes, 11), 0);
	assert_int_equal(protocol_frame_length(bytes, sizeof bytes), 12);
	bytes[4] = 1; /* 262 bytes */
	assert_true(protocol_frame_length(bytes, sizeof bytes) < 0);
	bytes[4] = 0;
	bytes[2] = 1; /* not Modbus */
	assert_true(protocol_frame_length(bytes, sizeof bytes) < 0);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test_setup(reading_answers_the_published_examples, fill_bank),
	    cmocka_unit_test_setup(
		a_hole_or_the_end_of_the_map_is_exception_2, fill_bank),
	    cmocka_unit_test_setup(a_count_that_cannot_be_is_exception_3, fill_bank),
	    cmocka_unit_test_setup(writing_is_refused_and_counted, fill_bank),
	    cmocka_unit_test_setup(
		another_unit_and_a_silent_device_do_not_answer, fill_bank),
	    cmocka_unit_test_setup(
		a_device_in_trouble_answers_with_its_exception, fill_bank),
	    cmocka_unit_test_setup(frames_are_cut_by_their_length, fill_bank),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
