/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/frame.h"

#include <stdbool.h>
#include <stdio.h>

#include "conf/register.h"
#include "conf/words.h"
#include "daemon/base/error.h"

/* Layout and codes: Modbus Application Protocol V1.1b3, sections 6.1 to 6.4 and 7;
 * the header: Modbus Messaging on TCP/IP Implementation Guide V1.0b, section 3.1.3. */
enum {
	PREFIX_BYTES = 6, /* transaction, protocol, length */
	COUNT_AT = 8,     /* of the data bytes; an exception has its code there */
	DATA_AT = 9,
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

void
frame_write_request(
    const struct frame_request *request, uint8_t bytes[static FRAME_REQUEST_BYTES])
{
	put16(bytes, request->transaction);
	put16(bytes + 2, 0); /* protocol: Modbus */
	put16(bytes + 4, FRAME_REQUEST_BYTES - PREFIX_BYTES);
	bytes[6] = request->unit_id;
	bytes[7] = register_function(request->block.table);
	put16(bytes + 8, request->block.first);
	put16(bytes + 10, request->block.count);
}

static int
refuse_exception(uint8_t code, struct error *error)
{
	static const char *const meanings[] = {
	    [1] = "illegal function: the device has no such table",
	    [2] = "illegal data address: check address and holes",
	    [3] = "illegal data value: check max_registers",
	    [4] = "device failure",
	    [5] = "acknowledge: the device needs longer",
	    [6] = "device busy",
	    [7] = "negative acknowledge",
	    [8] = "memory parity error in the device",
	    [10] = "gateway path unavailable: check unit_id and the gateway",
	    [11] = "no answer to the gateway: check the device behind it and unit_id",
	};
	const char *meaning =
	    code < sizeof meanings / sizeof *meanings ? meanings[code] : NULL;
	enum error_code result =
	    code == 10 || code == 11 ? ERROR_TIMEOUT : ERROR_REFUSED;

	return error_set(error, result, "exception %d, %s", code,
	    meaning ? meaning : "not in the standard: see the device's manual");
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

int
frame_read_reply(const struct frame_request *request, const uint8_t *bytes,
    size_t length, uint16_t *words, struct error *error)
{
	const struct read_block *block = &request->block;
	uint8_t function = register_function(block->table);
	size_t data_bytes = register_is_bit(block->table) ? (block->count + 7U) / 8U
	                                                  : 2U * block->count;

	if (length < DATA_AT)
		return error_set(
		    error, ERROR_IO, "reply out of step: only %zu bytes", length);
	if (!same("transaction", get16(bytes), request->transaction, error) ||
	    !same("protocol", get16(bytes + 2), 0, error) ||
	    !same("length", get16(bytes + 4), length - PREFIX_BYTES, error) ||
	    !same("unit id", bytes[6], request->unit_id, error))
		return ERROR_IO;
	if (bytes[7] == (function | EXCEPTION_FLAG) && length == DATA_AT)
		return refuse_exception(bytes[COUNT_AT], error);
	if (!same("function", bytes[7], function, error) ||
	    !same("byte count", bytes[COUNT_AT], data_bytes, error) ||
	    !same("data bytes", length - DATA_AT, data_bytes, error))
		return ERROR_IO;
	unpack(block, bytes + DATA_AT, words);
	return 0;
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
