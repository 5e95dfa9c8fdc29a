/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The examples are those of the Modbus Application Protocol Specification V1.1b3,
 * sections 6.1 to 6.4 and 7, behind the header of the Modbus Messaging on TCP/IP
 * Implementation Guide V1.0b.
 */
#include "daemon/fieldbus/frame.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
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
	    .transaction = 1,
	    .unit_id = 1,
	    .block = {.table = table, .first = first, .count = count},
	};
}

static void
expect_request(const struct frame_request *asked, const uint8_t expected[static 12],
    const char *what)
{
	uint8_t bytes[FRAME_REQUEST_BYTES];

	assert_int_equal(frame_write_request(asked, bytes), 12);
	published_same(SOURCE_MODBUS, what, bytes, expected, 12);
}

/* Section 6.1: coils 20 to 38. */
static void
coils_are_as_published(void **state)
{
	struct frame_request asked = request(TABLE_COIL, 0x13, 0x13);
	const uint8_t ask[] = {0, 1, 0, 0, 0, 6, 1, 0x01, 0x00, 0x13, 0x00, 0x13};
	const uint8_t reply[] = {0, 1, 0, 0, 0, 6, 1, 0x01, 0x03, 0xCD, 0x6B, 0x05};
	const uint16_t bits[19] = {
	    1, 0, 1, 1, 0, 0, 1, 1, 1, 1, 0, 1, 0, 1, 1, 0, 1, 0, 1};
	uint16_t words[19];

	(void)state;
	expect_request(&asked, ask, "request of coils 20 to 38 over TCP, bytes alike");
	assert_int_equal(frame_read_reply(&asked, reply, sizeof reply, words, NULL), 0);
	published_same(SOURCE_MODBUS, "answer with coils 20 to 38, bytes alike", words,
	    bits, sizeof bits);
}

/* Section 6.2: discrete inputs 197 to 218. */
static void
discrete_inputs_are_as_published(void **state)
{
	struct frame_request asked = request(TABLE_DISCRETE, 0xC4, 0x16);
	const uint8_t ask[] = {0, 1, 0, 0, 0, 6, 1, 0x02, 0x00, 0xC4, 0x00, 0x16};
	const uint8_t reply[] = {0, 1, 0, 0, 0, 6, 1, 0x02, 0x03, 0xAC, 0xDB, 0x35};
	const uint16_t bits[22] = {
	    0, 0, 1, 1, 0, 1, 0, 1, 1, 1, 0, 1, 1, 0, 1, 1, 1, 0, 1, 0, 1, 1};
	uint16_t words[22];

	(void)state;
	expect_request(
	    &asked, ask, "request of discrete inputs 197 to 218 over TCP, bytes alike");
	assert_int_equal(frame_read_reply(&asked, reply, sizeof reply, words, NULL), 0);
	published_same(SOURCE_MODBUS,
	    "answer with discrete inputs 197 to 218, bytes alike", words, bits,
	    sizeof bits);
}

/* Section 6.3: holding registers 108 to 110. */
static void
holding_registers_are_as_published(void **state)
{
	struct frame_request asked = request(TABLE_HOLDING, 0x6B, 3);
	const uint8_t ask[] = {0, 1, 0, 0, 0, 6, 1, 0x03, 0x00, 0x6B, 0x00, 0x03};
	const uint8_t reply[] = {
	    0, 1, 0, 0, 0, 9, 1, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64};
	const uint16_t values[3] = {555, 0, 100};
	uint16_t words[3];

	(void)state;
	expect_request(&asked, ask,
	    "request of holding registers 108 to 110 over TCP, bytes alike");
	assert_int_equal(frame_read_reply(&asked, reply, sizeof reply, words, NULL), 0);
	published_same(SOURCE_MODBUS,
	    "answer with holding registers 108 to 110, bytes alike", words, values,
	    sizeof words);
}

/* Section 6.4: input register 9. */
static void
input_registers_are_as_published(void **state)
{
	struct frame_request asked = request(TABLE_INPUT, 8, 1);
	const uint8_t ask[] = {0, 1, 0, 0, 0, 6, 1, 0x04, 0x00, 0x08, 0x00, 0x01};
	const uint8_t reply[] = {0, 1, 0, 0, 0, 5, 1, 0x04, 0x02, 0x00, 0x0A};
	uint16_t word;

	(void)state;
	expect_request(
	    &asked, ask, "request of input register 9 over TCP, bytes alike");
	assert_int_equal(frame_read_reply(&asked, reply, sizeof reply, &word, NULL), 0);
	published(SOURCE_MODBUS, "answer with input register 9", word, 10, 0);
}

/* Section 7: a client asks for the coil 1245 that is not there. */
static void
an_exception_is_told_in_words(void **state)
{
	struct frame_request asked = request(TABLE_COIL, 0x04A1, 1);
	uint8_t reply[] = {0, 1, 0, 0, 0, 3, 1, 0x81, 0x02};
	struct error error = {""};
	uint16_t word = 7;

	(void)state;
	assert_int_equal(frame_read_reply(&asked, reply, sizeof reply, &word, &error),
	    ANSWER_ILLEGAL);
	assert_string_equal(
	    error.text, "exception 2, illegal data address: check address and holes");
	assert_int_equal(word, 7);
	reply[8] = 11; /* gateway target device failed to respond */
	assert_int_equal(frame_read_reply(&asked, reply, sizeof reply, &word, &error),
	    ANSWER_GATEWAY);
	for (int code = 0; code < 256; code++) { /* whatever comes is told */
		reply[8] = (uint8_t)code;
		assert_true(frame_read_reply(&asked, reply, sizeof reply, &word,
				&error) != ANSWER_GOOD);
		assert_null(strstr(error.text, "null"));
	}
}

static void
one_wrong_byte_before_the_data_is_never_accepted(void **state)
{
	struct frame_request asked = request(TABLE_HOLDING, 0x6B, 3);
	const uint8_t good[] = {
	    0, 1, 0, 0, 0, 9, 1, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64};

	(void)state;
	for (size_t at = 0; at < 9; at++)
		for (int value = 0; value < 256; value++) {
			uint8_t reply[sizeof good];
			uint16_t words[3] = {7, 7, 7};

			memcpy(reply, good, sizeof good);
			reply[at] = (uint8_t)value;
			if (value == good[at])
				continue;
			assert_int_equal(
			    frame_read_reply(&asked, reply, sizeof reply, words, NULL),
			    ANSWER_WRONG);
			assert_int_equal(words[0], 7);
		}
}

static void
no_other_length_is_accepted(void **state)
{
	struct frame_request asked = request(TABLE_HOLDING, 0x6B, 3);
	uint8_t reply[FRAME_REPLY_BYTES] = {
	    0, 1, 0, 0, 0, 9, 1, 0x03, 0x06, 0x02, 0x2B, 0x00, 0x00, 0x00, 0x64};

	(void)state;
	for (size_t length = 0; length <= sizeof reply; length++) {
		uint16_t words[3];
		int result = frame_read_reply(&asked, reply, length, words, NULL);

		assert_int_equal(result, length == 15 ? ANSWER_GOOD : ANSWER_WRONG);
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
		assert_true(frame_read_reply(&asked, bytes, length, words, NULL) !=
			    ANSWER_GOOD);
		free(bytes);
	}
}

static void
blocks_are_named_by_table_and_addresses(void **state)
{
	struct read_block one = {.table = TABLE_INPUT, .first = 20, .count = 1};
	struct read_block many = {.table = TABLE_HOLDING, .first = 65410, .count = 125};
	char text[32];

	(void)state;
	frame_block_text(&one, text, sizeof text);
	assert_string_equal(text, "input 20");
	frame_block_text(&many, text, sizeof text);
	assert_string_equal(text, "holding 65410..65534");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(coils_are_as_published),
	    cmocka_unit_test(discrete_inputs_are_as_published),
	    cmocka_unit_test(holding_registers_are_as_published),
	    cmocka_unit_test(input_registers_are_as_published),
	    cmocka_unit_test(an_exception_is_told_in_words),
	    cmocka_unit_test(one_wrong_byte_before_the_data_is_never_accepted),
	    cmocka_unit_test(no_other_length_is_accepted),
	    cmocka_unit_test(random_bytes_are_refused_within_their_bounds),
	    cmocka_unit_test(blocks_are_named_by_table_and_addresses),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
