/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/protocol.h"

#include <stdbool.h>
#include <string.h>

#include "contrib/linesim/registers.h"

enum {
	EXCEPTION_FUNCTION = 1,
	EXCEPTION_ADDRESS = 2,
	EXCEPTION_VALUE = 3,
	BITS_MAX = 2000,
	REQUEST_PDU = 5, /* function, address, quantity */
};

static unsigned
word_at(const uint8_t *bytes)
{
	return (unsigned)bytes[0] << 8 | bytes[1];
}

static void
put_word(uint8_t *bytes, unsigned word)
{
	bytes[0] = (uint8_t)(word >> 8);
	bytes[1] = (uint8_t)word;
}

int
protocol_frame_length(const uint8_t *bytes, size_t count)
{
	if (count < PROTOCOL_HEADER - 1)
		return 0;
	unsigned rest = word_at(bytes + 4); /* the unit id and the PDU */
	if (word_at(bytes + 2) != 0 || rest < 2 || rest > PROTOCOL_FRAME_MAX - 6)
		return -1;
	return count >= rest + 6 ? (int)rest + 6 : 0;
}

/* The PDU of an exception; its length. */
static size_t
exception(uint8_t *pdu, uint8_t function, int code)
{
	pdu[0] = function | 0x80;
	pdu[1] = (uint8_t)code;
	return 2;
}

static bool
all_served(const struct bank *bank, enum table table, unsigned first, unsigned count)
{
	if (first + count > TABLE_SIZE)
		return false;
	for (unsigned address = first; address < first + count; address++)
		if (!bank->served[table][address])
			return false;
	return true;
}

static size_t
put_bits(uint8_t *pdu, const uint16_t *words, unsigned count)
{
	size_t bytes = (count + 7) / 8;

	pdu[1] = (uint8_t)bytes;
	memset(pdu + 2, 0, bytes);
	for (unsigned i = 0; i < count; i++)
		if (words[i] != 0)
			pdu[2 + i / 8] |= (uint8_t)(1u << i % 8);
	return 2 + bytes;
}

static size_t
put_words(uint8_t *pdu, const uint16_t *words, unsigned count)
{
	pdu[1] = (uint8_t)(2 * count);
	for (unsigned i = 0; i < count; i++)
		put_word(pdu + 2 + 2 * i, words[i]);
	return 2 + 2 * count;
}

static size_t
answer_read(
    const struct bank *bank, const uint8_t *request, size_t length, uint8_t *pdu)
{
	static const enum table tables[] = {[1] = TABLE_COIL,
	    [2] = TABLE_DISCRETE,
	    [3] = TABLE_HOLDING,
	    [4] = TABLE_INPUT};
	uint8_t function = request[0];
	enum table table = tables[function];
	bool bits = table == TABLE_COIL || table == TABLE_DISCRETE;

	if (length != REQUEST_PDU)
		return exception(pdu, function, EXCEPTION_VALUE);
	unsigned first = word_at(request + 1), count = word_at(request + 3);
	unsigned count_max = bits ? BITS_MAX : (unsigned)bank->registers_max;
	if (count == 0 || count > count_max)
		return exception(pdu, function, EXCEPTION_VALUE);
	if (!all_served(bank, table, first, count))
		return exception(pdu, function, EXCEPTION_ADDRESS);
	pdu[0] = function;
	const uint16_t *words = &bank->word[table][first];
	return bits ? put_bits(pdu, words, count) : put_words(pdu, words, count);
}

size_t
protocol_answer(const struct bank *bank, int64_t now, const uint8_t *request,
    uint8_t answer[static PROTOCOL_FRAME_MAX], struct protocol_counts *counts)
{
	size_t pdu_length = word_at(request + 4) - 1, answered;
	const uint8_t *pdu = request + PROTOCOL_HEADER;
	bool reads = pdu[0] >= 1 && pdu[0] <= 4;

	counts->functions[pdu[0]]++;
	if (!reads)
		counts->refused++;
	if (request[6] != bank->unit_id || bank->silent_until > now)
		return 0;
	if (bank->exception_until > now)
		answered =
		    exception(answer + PROTOCOL_HEADER, pdu[0], bank->exception_code);
	else if (!reads)
		answered =
		    exception(answer + PROTOCOL_HEADER, pdu[0], EXCEPTION_FUNCTION);
	else
		answered = answer_read(bank, pdu, pdu_length, answer + PROTOCOL_HEADER);
	memcpy(answer, request, PROTOCOL_HEADER);
	put_word(answer + 4, (unsigned)answered + 1);
	return PROTOCOL_HEADER + answered;
}
