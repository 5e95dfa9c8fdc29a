/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/frame.h"

#include <stdbool.h>
#include <stdio.h>

#include "conf/register.h"
#include "conf/words.h"
#include "daemon/base/error.h"

/* Layout and codes: Modbus Application Protocol V1.1b3, sections 6.1 to 6.4 and 7;
 * the header over TCP: Modbus Messaging on TCP/IP Implementation Guide V1.0b, section
 * 3.1.3; the serial frame and its check sum: Modbus over Serial Line V1.02, 2.5.1. */
enum {
	TCP_PREFIX_BYTES = 6, /* transaction, protocol, length */
	CRC_BYTES = 2,
	/* within what lies behind a prefix and before a check sum */
	COUNT_AT = 2, /* of the data bytes; an exception has its code there */
	DATA_AT = 3,
	EXCEPTION_FLAG = 0x80,
};

static void
put16(uint8_t *bytes, uint16_t value)
{
	bytes[0] = (uint8_t)(value >> 8);
	bytes[1] = (uint8_t)value;
}

static uint16_t
get16(const uint8_t *bytes)
{
	return (uint16_t)(bytes[0] << 8 | bytes[1]);
}

static uint16_t
get16_low_first(const uint8_t *bytes)
{
	return (uint16_t)(bytes[1] << 8 | bytes[0]);
}

uint16_t
frame_crc(const uint8_t *bytes, size_t length)
{
	unsigned crc = 0xFFFF;

	for (size_t i = 0; i < length; i++) {
		crc ^= bytes[i];
		for (int bit = 0; bit < 8; bit++)
			crc = crc & 1 ? crc >> 1 ^ 0xA001 : crc >> 1;
	}
	return (uint16_t)crc;
}

/* Unit id, function, first, count. */
static void
write_body(const struct frame_request *request, uint8_t *bytes)
{
	bytes[0] = request->unit_id;
	bytes[1] = register_function(request->block.table);
	put16(bytes + 2, request->block.first);
	put16(bytes + 4, request->block.count);
}

size_t
frame_write_request(
    const struct frame_request *request, uint8_t bytes[static FRAME_REQUEST_BYTES])
{
	enum { BODY_BYTES = 6 };
	uint16_t crc;

	switch (request->kind) {
	case BUS_TCP:
		put16(bytes, request->transaction);
		put16(bytes + 2, 0); /* protocol: Modbus */
		put16(bytes + 4, BODY_BYTES);
		write_body(request, bytes + TCP_PREFIX_BYTES);
		return FRAME_TCP_REQUEST_BYTES;
	case BUS_SERIAL:
		write_body(request, bytes);
		crc = frame_crc(bytes, BODY_BYTES);
		bytes[BODY_BYTES] = (uint8_t)crc;
		bytes[BODY_BYTES + 1] = (uint8_t)(crc >> 8);
		return FRAME_RTU_REQUEST_BYTES;
	}
	return 0;
}

static enum answer
refuse_exception(uint8_t code, struct error *error)
{
	static const struct {
		enum answer answer;
		const char *text;
	} meanings[] = {
	    [1] = {ANSWER_ILLEGAL, "illegal function: the device has no such table"},
	    [2] = {ANSWER_ILLEGAL, "illegal data address: check address and holes"},
	    [3] = {ANSWER_ILLEGAL, "illegal data value: check max_registers"},
	    [4] = {ANSWER_FAULT, "device failure"},
	    [5] = {ANSWER_BUSY, "acknowledge: the device needs longer"},
	    [6] = {ANSWER_BUSY, "device busy"},
	    [7] = {ANSWER_FAULT, "negative acknowledge"},
	    [8] = {ANSWER_FAULT, "memory parity error in the device"},
	    [10] = {ANSWER_GATEWAY,
		"gateway path unavailable: check unit_id and the gateway"},
	    [11] = {ANSWER_GATEWAY, "no answer to the gateway: check the device "
				    "behind it and unit_id"},
	};

	if (code < sizeof meanings / sizeof *meanings && meanings[code].text) {
		error_set(error, ERROR_REFUSED, "exception %d, %s", code,
		    meanings[code].text);
		return meanings[code].answer;
	}
	error_set(error, ERROR_REFUSED,
	    "exception %d, not in the standard: see the device's manual", code);
	return ANSWER_FAULT;
}

/* Whether the reply has the field; says what came in its place. */
static bool
same(const char *field, size_t got, size_t expected, struct error *error)
{
	if (got == expected)
		return true;
	error_set(error, ERROR_IO, "reply out of step: %s %zu in place of %zu", field,
	    got, expected);
	return false;
}

static uint16_t
get_bit(const uint8_t *bytes, size_t index)
{
	return bytes[index / 8] & 1U << index % 8 ? 1 : 0;
}

static void
unpack(const struct read_block *block, const uint8_t *data, uint16_t *words)
{
	bool bits = register_is_bit(block->table);

	for (size_t i = 0; i < block->count; i++)
		words[i] = bits ? get_bit(data, i) : get16(data + 2 * i);
}

size_t
frame_data_bytes(const struct read_block *block)
{
	return register_is_bit(block->table) ? (block->count + 7U) / 8U
	                                     : 2U * block->count;
}

/* What the two framings have in common, from the unit id to the data; `length` is
 * DATA_AT at least. */
static enum answer
read_body(const struct frame_request *request, const uint8_t *body, size_t length,
    uint16_t *words, struct error *error)
{
	uint8_t function = register_function(request->block.table);
	size_t data_bytes = frame_data_bytes(&request->block);

	if (!same("unit id", body[0], request->unit_id, error))
		return ANSWER_WRONG;
	if (body[1] == (function | EXCEPTION_FLAG) && length == DATA_AT)
		return refuse_exception(body[COUNT_AT], error);
	if (!same("function", body[1], function, error) ||
	    !same("byte count", body[COUNT_AT], data_bytes, error) ||
	    !same("data bytes", length - DATA_AT, data_bytes, error))
		return ANSWER_WRONG;
	unpack(&request->block, body + DATA_AT, words);
	return ANSWER_GOOD;
}

static bool
is_long_enough(size_t length, size_t least, struct error *error)
{
	if (length >= least)
		return true;
	error_set(error, ERROR_IO, "reply out of step: only %zu bytes", length);
	return false;
}

static bool
check_prefix(const struct frame_request *request, const uint8_t *bytes, size_t length,
    struct error *error)
{
	return is_long_enough(length, TCP_PREFIX_BYTES + DATA_AT, error) &&
	       same("transaction", get16(bytes), request->transaction, error) &&
	       same("protocol", get16(bytes + 2), 0, error) &&
	       same("length", get16(bytes + 4), length - TCP_PREFIX_BYTES, error);
}

static bool
check_crc(const uint8_t *bytes, size_t length, struct error *error)
{
	if (!is_long_enough(length, DATA_AT + CRC_BYTES, error))
		return false;
	length -= CRC_BYTES;
	if (frame_crc(bytes, length) == get16_low_first(bytes + length))
		return true;
	error_set(error, ERROR_IO, "reply damaged: its check sum is wrong");
	return false;
}

enum answer
frame_read_reply(const struct frame_request *request, const uint8_t *bytes,
    size_t length, uint16_t *words, struct error *error)
{
	switch (request->kind) {
	case BUS_TCP:
		if (!check_prefix(request, bytes, length, error))
			return ANSWER_WRONG;
		return read_body(request, bytes + TCP_PREFIX_BYTES,
		    length - TCP_PREFIX_BYTES, words, error);
	case BUS_SERIAL:
		if (!check_crc(bytes, length, error))
			return ANSWER_WRONG;
		return read_body(request, bytes, length - CRC_BYTES, words, error);
	}
	return ANSWER_WRONG;
}

void
frame_block_text(const struct read_block *block, char *text, size_t room)
{
	const char *table = words_table.list[block->table];

	if (block->count == 1)
		snprintf(text, room, "%s %d", table, block->first);
	else
		snprintf(text, room, "%s %d..%d", table, block->first,
		    block->first + block->count - 1);
}
