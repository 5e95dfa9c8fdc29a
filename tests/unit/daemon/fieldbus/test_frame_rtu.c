/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Frames of serial lines.  The messages are the examples of the Modbus Application
 * Protocol Specification V1.1b3, sections 6.1 to 6.4 and 7, with unit 1 before them and
 * the check sum of Modbus over Serial Line V1.02, 6.2.2, behind; its own example is
 * that of 02 07.  The sum of "123456789" is that of the catalogues of check sums
 * (CRC-16/MODBUS).
 */
#include "daemon/fieldbus/frame.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <time.h>
#include <cmocka.h>

#include "daemon/base/error.h"
#include "tests/unit/seed.h"
#include "tests/unit/published.h"

static struct frame_request
request(enum register_table table, uint16_t first, uint16_t count)
{
	return (struct frame_request){
	    .kind = BUS_SERIAL,
	    .unit_id = 1,
	    .block = {.table = table, .first = first, .count = count},
	};
}

static void
expect_request(const struct frame_request *asked, const uint8_t expected[static 8],
    const char *what)
{
	uint8_t bytes[FRAME_REQUEST_BYTES];

	assert_int_equal(frame_write_request(asked, bytes), 8);
	published_same(SOURCE_MODBUS_SERIAL, what, bytes, expected, 8);
}

static void
check_sums_are_as_published(void **state)
{
	(void)state;
	assert_int_equal(frame_crc((const uint8_t *)"123456789", 9), 0x4B37);
	published(SOURCE_MODBUS_SERIAL,
	    "check sum of 02 07 (printed 4112, low byte first)",
	    frame_crc((const uint8_t[]){0x02, 0x07}, 2), 0x1241, 0);
	assert_int_equal(frame_crc(NULL, 0), 0xFFFF);
}

static void
coils_are_as_published(void **state)
{
	struct frame_request asked = request(TABLE_COIL, 0x13, 0x13);
	const uint8_t ask[] = {0x01, 0x01, 0x00, 0x13, 0x00, 0x13, 0x8C, 0x02};
	const uint8_t reply[] = {0x01, 0x01, 0x03, 0xCD, 0x6B, 0x05, 0x42, 0x82};
	const uint16_t bits[19] = {
	    1, 0, 1, 1, 0, 0, 1, 1, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1};
	uint16_t words[19];

	(void)state;
	expect_request(
	    &asked, ask, "request of coils 20 to 38 over a serial line, bytes alike");
	assert_int_equal(
	    frame_read_reply(&asked, reply, sizeof reply, words, NULL), ANSWER_GOOD);
	published_same(SOURCE_MODBUS_SERIAL, "answer with coils 20 to 38, bytes alike",
	    words, bits, sizeof bits);
}

static void
discrete_inputs_are_as_published(void **state)
{
	struct frame_request asked = request(TABLE_DISCRETE, 0xC4, 0x16);
	const uint8_t ask[] = {0x01, 0x02, 0x00, 0xC4, 0x00, 0x16, 0xB8, 0x39};
	const uint8_t reply[] = {0x01, 0x02, 0x03, 0xAC, 0xDB, 0x35, 0x22, 0x88};
	const uint16_t bits[22] = {
	    0, 0, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1, 0, 1, 1};
	uint16_t words[22];

	(void)state;
	expect_request(&asked, ask,
	    "request of discrete inputs 197 to 218 over a serial line, bytes alike");
	assert_int_equal(
	    frame_read_reply(&asked, reply, sizeof reply, words, NULL), ANSWER_GOOD);
	published_same(SOURCE_MODBUS_SERIAL,
	    "answer with discrete inputs 197 to 218, bytes alike", words, bits,
	    sizeof bits);
}

static void
holding_registers_are_as_published(void **state)
{
	struct frame_request asked = request(TABLE_HOLDING, 0x6B, 3);
	const uint8_t ask[] = {0x01, 0x03, 0x00, 0x6B, 0x00, 0x03, 0x74, 0x17};
	const uint8_t reply[] = {
	    0x01, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64, 0x05, 0x7A};
	const uint16_t values[3] = {555, 0, 100};
	uint16_t words[3];

	(void)state;
	expect_request(&asked, ask,
	    "request of holding registers 108 to 110 over a serial line, bytes alike");
	assert_int_equal(
	    frame_read_reply(&asked, reply, sizeof reply, words, NULL), ANSWER_GOOD);
	published_same(SOURCE_MODBUS_SERIAL,
	    "answer with holding registers 108 to 110, bytes alike", words, values,
	    sizeof values);
}

static void
input_registers_are_as_published(void **state)
{
	struct frame_request asked = request(TABLE_INPUT, 8, 1);
	const uint8_t ask[] = {0x01, 0x04, 0x00, 0x08, 0x00, 0x01, 0xB0, 0x08};
	const uint8_t reply[] = {0x01, 0x04, 0x02, 0x00, 0x0A, 0x39, 0x37};
	uint16_t word;

	(void)state;
	expect_request(
	    &asked, ask, "request of input register 9 over a serial line, bytes alike");
	assert_int_equal(
	    frame_read_reply(&asked, reply, sizeof reply, &word, NULL), ANSWER_GOOD);
	published(SOURCE_MODBUS_SERIAL, "answer with input register 9", word, 10, 0);
}

/* Section 7: a client asks for the coil 1245 that is not there. */
static void
an_exception_is_as_published(void **state)
{
	struct frame_request asked = request(TABLE_COIL, 0x04A1, 1);
	const uint8_t ask[] = {0x01, 0x01, 0x04, 0xA1, 0x00, 0x01, 0xAD, 0x18};
	const uint8_t reply[] = {0x01, 0x81, 0x02, 0xC1, 0x91};
	struct error error = {""};
	uint16_t word = 7;

	(void)state;
	expect_request(&asked, ask,
	    "request of a coil that is not there over a serial line, bytes alike");
	assert_int_equal(frame_read_reply(&asked, reply, sizeof reply, &word, &error),
	    ANSWER_ILLEGAL);
	assert_string_equal(
	    error.text, "exception 2, illegal data address: check address and holes");
	assert_int_equal(word, 7);
}

static void
one_wrong_bit_anywhere_is_never_accepted(void **state)
{
	struct frame_request asked = request(TABLE_HOLDING, 0x6B, 3);
	uint8_t reply[] = {
	    0x01, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64, 0x05, 0x7A};

	(void)state;
	for (size_t bit = 0; bit < 8 * sizeof reply; bit++) {
		uint16_t words[3] = {7, 7, 7};

		reply[bit / 8] ^= (uint8_t)(1U << bit % 8);
		assert_int_equal(
		    frame_read_reply(&asked, reply, sizeof reply, words, NULL),
		    ANSWER_WRONG);
		assert_int_equal(words[0], 7);
		reply[bit / 8] ^= (uint8_t)(1U << bit % 8);
	}
}

/* Seals what another reply might be: only the fields can tell it. */
static enum answer
read_sealed(const struct frame_request *asked, const uint8_t *body, size_t length)
{
	uint8_t bytes[FRAME_REPLY_BYTES];
	uint16_t words[125], crc = frame_crc(body, length);

	memcpy(bytes, body, length);
	bytes[length] = (uint8_t)crc;
	bytes[length + 1] = (uint8_t)(crc >> 8);
	return frame_read_reply(asked, bytes, length + 2, words, NULL);
}

static void
a_good_check_sum_alone_is_not_enough(void **state)
{
	struct frame_request asked = request(TABLE_HOLDING, 0x6B, 1);

	(void)state;
	assert_int_equal(
	    read_sealed(&asked, (uint8_t[]){1, 3, 2, 0, 9}, 5), ANSWER_GOOD);
	assert_int_equal(
	    read_sealed(&asked, (uint8_t[]){2, 3, 2, 0, 9}, 5), ANSWER_WRONG);
	assert_int_equal(
	    read_sealed(&asked, (uint8_t[]){1, 4, 2, 0, 9}, 5), ANSWER_WRONG);
	assert_int_equal(
	    read_sealed(&asked, (uint8_t[]){1, 3, 4, 0, 9, 0, 9}, 7), ANSWER_WRONG);
	assert_int_equal(
	    read_sealed(&asked, (uint8_t[]){1, 3, 2, 0, 9, 0, 9}, 7), ANSWER_WRONG);
	assert_int_equal(read_sealed(&asked, (uint8_t[]){1, 3, 2}, 3), ANSWER_WRONG);
	assert_int_equal(read_sealed(&asked, (uint8_t[]){1, 3}, 2), ANSWER_WRONG);
	assert_int_equal(read_sealed(&asked, (uint8_t[]){1, 0x84, 2}, 3), ANSWER_WRONG);
}

static void
exceptions_are_told_apart_by_their_meaning(void **state)
{
	static const enum answer meanings[256] = {
	    [1] = ANSWER_ILLEGAL,
	    [2] = ANSWER_ILLEGAL,
	    [3] = ANSWER_ILLEGAL,
	    [5] = ANSWER_BUSY,
	    [6] = ANSWER_BUSY,
	    [10] = ANSWER_GATEWAY,
	    [11] = ANSWER_GATEWAY,
	};
	struct frame_request asked = request(TABLE_INPUT, 0, 1);

	(void)state;
	for (int code = 0; code < 256; code++) {
		uint8_t body[] = {1, 0x84, (uint8_t)code};

		assert_int_equal(read_sealed(&asked, body, sizeof body),
		    meanings[code] ? meanings[code] : ANSWER_FAULT);
	}
}

/* Every function that a request can say. */
static void
only_the_four_reading_functions_can_be_formed(void **state)
{
	(void)state;
	for (int table = TABLE_COIL; table <= TABLE_INPUT; table++)
		for (int kind = BUS_TCP; kind <= BUS_SERIAL; kind++) {
			struct frame_request asked =
			    request((enum register_table)table, 0xFFFF, 0xFFFF);
			uint8_t bytes[FRAME_REQUEST_BYTES];

			asked.kind = (enum bus_kind)kind;
			frame_write_request(&asked, bytes);
			assert_int_equal(bytes[kind == BUS_TCP ? 7 : 1], table + 1);
		}
}

static void
random_bytes_are_refused_within_their_bounds(void **state)
{
	(void)state;
	srand(seed_take((unsigned)time(NULL)));
	for (int round = 0; round < 20000; round++) {
		size_t length = (size_t)rand() % (FRAME_REPLY_BYTES + 1);
		uint8_t *bytes = malloc(length + 1); /* so that asan sees the end */
		struct frame_request asked =
		    request((enum register_table)(rand() % 4), 0, 125);
		uint16_t words[125];

		assert_non_null(bytes);
		for (size_t i = 0; i < length; i++)
			bytes[i] = (uint8_t)rand();
		assert_int_not_equal(
		    frame_read_reply(&asked, bytes, length, words, NULL), ANSWER_GOOD);
		free(bytes);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(check_sums_are_as_published),
	    cmocka_unit_test(coils_are_as_published),
	    cmocka_unit_test(discrete_inputs_are_as_published),
	    cmocka_unit_test(holding_registers_are_as_published),
	    cmocka_unit_test(input_registers_are_as_published),
	    cmocka_unit_test(an_exception_is_as_published),
	    cmocka_unit_test(one_wrong_bit_anywhere_is_never_accepted),
	    cmocka_unit_test(a_good_check_sum_alone_is_not_enough),
	    cmocka_unit_test(exceptions_are_told_apart_by_their_meaning),
	    cmocka_unit_test(only_the_four_reading_functions_can_be_formed),
	    cmocka_unit_test(random_bytes_are_refused_within_their_bounds),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
