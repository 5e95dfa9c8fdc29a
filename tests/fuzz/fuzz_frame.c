/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A Modbus reply against its request, over TCP and on a serial line.  What is taken has
 * every field right, what is refused has one wrong, and neither is found out with the
 * code that is tried: fields by the Modbus Application Protocol V1.1b3, sections 6.1 to
 * 6.4 and 7, the header by the Messaging Implementation Guide V1.0b, section 3.1.3, the
 * check sum by Modbus over Serial Line V1.02, section 6.2.2.
 *
 * Input: bit 0 for a serial line, bit 1 for a reply that lacks its check sum, which is
 * then added; transaction (2 bytes), unit id, table, first (2), count (2); the reply.
 */
#include "tests/fuzz/target.h"

#include "daemon/base/error.h"
#include "daemon/fieldbus/frame.h"

enum {
	WORDS = 2000,
	GUARD = 8,
	UNTOUCHED = 0xbeef,
	HEADER = 6, /* of TCP, before the unit id */
	SUM = 2,
};

/* A reply from the unit id on, without what the two framings put around it. */
struct seen {
	bool framed; /* rightly */
	const uint8_t *body;
	size_t length;
};

static unsigned
number_at(const uint8_t *bytes)
{
	return bytes[0] * 256U + bytes[1];
}

static unsigned
mirrored(unsigned value, int bits)
{
	unsigned result = 0;

	for (int i = 0; i < bits; i++)
		result |= (value >> i & 1) << (bits - 1 - i);
	return result;
}

/* As a division by x^16 + x^15 + x^2 + 1, the bits of each byte from the least on. */
static unsigned
check_sum(const uint8_t *bytes, size_t length)
{
	unsigned rest = 0xffff;

	for (size_t i = 0; i < length; i++) {
		rest ^= mirrored(bytes[i], 8) << 8;
		for (int bit = 0; bit < 8; bit++)
			rest = (rest << 1 ^ (rest >> 15 & 1) * 0x8005U) & 0xffff;
	}
	return mirrored(rest, 16);
}

static struct seen
look_at(const struct frame_request *request, const uint8_t *bytes, size_t length)
{
	struct seen seen = {0};

	if (request->kind == BUS_SERIAL) {
		seen.framed = length >= 3 + SUM &&
		              check_sum(bytes, length - SUM) ==
		                  bytes[length - 2] + 256U * bytes[length - 1];
		seen.body = bytes;
		seen.length = seen.framed ? length - SUM : 0;
	} else {
		seen.framed = length >= HEADER + 3 &&
		              number_at(bytes) == request->transaction &&
		              number_at(bytes + 2) == 0 &&
		              number_at(bytes + 4) + HEADER == length;
		seen.body = seen.framed ? bytes + HEADER : bytes;
		seen.length = seen.framed ? length - HEADER : 0;
	}
	return seen;
}

static unsigned
function_of(const struct frame_request *request)
{
	switch (request->block.table) {
	case TABLE_COIL:
		return 1;
	case TABLE_DISCRETE:
		return 2;
	case TABLE_HOLDING:
		return 3;
	case TABLE_INPUT:
		return 4;
	}
	abort();
}

static bool
is_of_bits(const struct frame_request *request)
{
	return function_of(request) <= 2;
}

static bool
is_answer(const struct seen *reply, const struct frame_request *request)
{
	size_t count = request->block.count;
	size_t bytes = is_of_bits(request) ? count / 8 + (count % 8 != 0) : count * 2;

	return reply->framed && reply->body[0] == request->unit_id &&
	       reply->body[1] == function_of(request) && reply->body[2] == bytes &&
	       reply->length == 3 + bytes;
}

static bool
is_exception(const struct seen *reply, const struct frame_request *request)
{
	return reply->framed && reply->length == 3 &&
	       reply->body[0] == request->unit_id &&
	       reply->body[1] == 128 + function_of(request);
}

/* Section 7 of the application protocol; 7 is of the protocol's first edition. */
static enum answer
expected_answer(const struct seen *reply, const struct frame_request *request)
{
	if (is_answer(reply, request))
		return ANSWER_GOOD;
	if (!is_exception(reply, request))
		return ANSWER_WRONG;
	unsigned code = reply->body[2];
	if (code >= 1 && code <= 3)
		return ANSWER_ILLEGAL;
	if (code == 5 || code == 6)
		return ANSWER_BUSY;
	return code == 10 || code == 11 ? ANSWER_GATEWAY : ANSWER_FAULT;
}

static unsigned
word_of(const struct seen *reply, const struct frame_request *request, size_t i)
{
	if (!is_of_bits(request))
		return number_at(reply->body + 3 + 2 * i);
	return reply->body[3 + (i >> 3)] >> (i & 7) & 1;
}

static struct frame_request
request_of(struct input *input, bool serial)
{
	struct frame_request request = {.kind = serial ? BUS_SERIAL : BUS_TCP,
	    .transaction = input_u16(input),
	    .unit_id = input_u8(input)};

	request.block.table = (enum register_table)(input_u8(input) % 4);
	request.block.first = input_u16(input);
	/* what a plan asks for at most */
	request.block.count =
	    (uint16_t)(1 + input_u16(input) % (is_of_bits(&request) ? 2000 : 125));
	return request;
}

/* The request as any other station would read it. */
static void
check_request(const struct frame_request *request)
{
	uint8_t bytes[FRAME_REQUEST_BYTES];
	size_t length = frame_write_request(request, bytes);
	const uint8_t *body = bytes;

	if (request->kind == BUS_SERIAL) {
		MUST(length == 6 + SUM);
		MUST(check_sum(bytes, 6) == bytes[6] + 256U * bytes[7]);
	} else {
		MUST(length == HEADER + 6);
		MUST(number_at(bytes) == request->transaction);
		MUST(number_at(bytes + 2) == 0 && number_at(bytes + 4) == 6);
		body += HEADER;
	}
	MUST(body[0] == request->unit_id && body[1] == function_of(request));
	MUST(number_at(body + 2) == request->block.first);
	MUST(number_at(body + 4) == request->block.count);
}

/* A copy of its own length, so that reading one byte past it is found. */
static uint8_t *
copy_reply(const struct input *input, bool add_sum, size_t *length)
{
	uint8_t *reply = malloc(input->left + SUM);

	MUST(reply != NULL);
	if (input->left > 0)
		memcpy(reply, input->at, input->left);
	*length = input->left;
	if (add_sum) {
		unsigned sum = check_sum(reply, *length);

		reply[(*length)++] = (uint8_t)sum;
		reply[(*length)++] = (uint8_t)(sum >> 8);
	}
	uint8_t *exact = realloc(reply, *length > 0 ? *length : 1);
	MUST(exact != NULL);
	return exact;
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static uint16_t words[WORDS + GUARD];
	struct input input = {bytes, length};
	uint8_t form = input_u8(&input);
	struct frame_request request = request_of(&input, form & 1);
	struct error error = {""};
	size_t reply_length;
	uint8_t *reply = copy_reply(&input, (form & 3) == 3, &reply_length);
	struct seen seen = look_at(&request, reply, reply_length);

	for (size_t i = 0; i < WORDS + GUARD; i++)
		words[i] = UNTOUCHED;
	check_request(&request);
	enum answer answer =
	    frame_read_reply(&request, reply, reply_length, words, &error);

	MUST(answer == expected_answer(&seen, &request));
	MUST(answer == ANSWER_GOOD ? error.text[0] == '\0'
				   : is_sentence(error.text, sizeof(error.text)));
	for (size_t i = 0; i < WORDS + GUARD; i++)
		MUST(words[i] == (answer == ANSWER_GOOD && i < request.block.count
					 ? word_of(&seen, &request, i)
					 : UNTOUCHED));
	free(reply);
	return 0;
}
