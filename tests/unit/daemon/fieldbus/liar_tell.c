/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a liar says; how it comes over a connection or a line is told elsewhere. */
#include "tests/unit/daemon/fieldbus/liar.h"

#include <stdlib.h>
#include <string.h>

#include "daemon/base/clock.h"

enum { UNIT = 6, FUNCTION = 7, COUNT = 8, DATA = 9 }; /* of a frame of TCP */

/* --- what its registers hold ---------------------------------------------------------- */

int64_t
liar_epoch(int64_t mono_ns)
{
	return clock_system_ns(mono_ns) / 1000000;
}

uint16_t
liar_value(int unit, int function, int address, int64_t epoch)
{
	uint64_t mixed = (uint64_t)epoch;

	mixed = mixed * 0x9e3779b97f4a7c15U + (uint64_t)(unit * 4 + function);
	mixed = (mixed ^ mixed >> 31) * 0xbf58476d1ce4e5b9U + (uint64_t)address;
	mixed = (mixed ^ mixed >> 29) * 0x94d049bb133111ebU;
	mixed ^= mixed >> 32;
	return (uint16_t)(function <= 2 ? mixed & 1 : mixed & 0xffff);
}

static void
put16(uint8_t *bytes, int value)
{
	bytes[0] = (uint8_t)(value >> 8);
	bytes[1] = (uint8_t)value;
}

static int
get16(const uint8_t *bytes)
{
	return bytes[0] << 8 | bytes[1];
}

/* The honest answer, as things stand now, for `count` registers or bits. */
static void
answer(const uint8_t *ask, int count, struct liar_frame *frame)
{
	int unit = ask[UNIT], function = ask[FUNCTION], first = get16(ask + 8);
	int data = function <= 2 ? (count + 7) / 8 : 2 * count;
	int64_t epoch = liar_epoch(clock_mono().ns);

	memset(frame, 0, sizeof *frame);
	memcpy(frame->bytes, ask, COUNT);
	put16(frame->bytes + 4, 3 + data);
	frame->bytes[COUNT] = (uint8_t)data;
	for (int i = 0; i < count; i++) {
		uint16_t value = liar_value(unit, function, first + i, epoch);

		if (function <= 2)
			frame->bytes[DATA + i / 8] |= (uint8_t)(value << i % 8);
		else
			put16(frame->bytes + DATA + 2 * i, value);
	}
	frame->length = DATA + data;
}

static void
except(const uint8_t *ask, int function, unsigned code, struct liar_frame *frame)
{
	memcpy(frame->bytes, ask, COUNT);
	put16(frame->bytes + 4, 3);
	frame->bytes[FUNCTION] = (uint8_t)(function | 0x80);
	frame->bytes[COUNT] = (uint8_t)code;
	frame->length = DATA;
}

/* --- making it worse -------------------------------------------------------------------- */

/* Something other than it was. */
static void
spoil(uint8_t *byte, unsigned random)
{
	*byte = (uint8_t)(*byte + 1 + random % 255);
}

/* What comes with a field that is wrong is of no use either: whoever believes it is found
 * out by what he reads. */
static void
spoil_data(enum lie lie, unsigned random, struct liar_frame *f)
{
	if (lie < LIE_TRANSACTION || lie > LIE_TOO_MANY)
		return;
	for (int i = DATA; i < f->length; i++)
		spoil(f->bytes + i, random >> i % 8);
}

/* Changes what is in the frame; how it is sent is another matter. */
static void
spoil_frame(struct liar *liar, enum lie lie, unsigned random, const uint8_t *ask,
    struct liar_frame *f)
{
	int count = get16(ask + 10), step = ask[FUNCTION] <= 2 ? 8 : 1;

	switch (lie) {
	case LIE_TRANSACTION:
		spoil(f->bytes + random / 256 % 2, random);
		break;
	case LIE_PROTOCOL:
		spoil(f->bytes + 2 + random / 256 % 2, random);
		break;
	case LIE_LENGTH:
		spoil(f->bytes + 4 + random / 256 % 2, random);
		break;
	case LIE_UNIT:
		spoil(f->bytes + UNIT, random);
		break;
	case LIE_FUNCTION:
		spoil(f->bytes + FUNCTION, random);
		break;
	case LIE_BYTE_COUNT:
		spoil(f->bytes + COUNT, random);
		break;
	case LIE_TOO_FEW:
		answer(ask, count > step ? count - step : 0, f);
		break;
	case LIE_TOO_MANY:
		answer(ask, count + step, f);
		break;
	case LIE_EXTRA:
		f->length += 1 + (int)(random % 16);
		break;
	case LIE_TWICE:
		memcpy(f->bytes + f->length, f->bytes, (size_t)f->length);
		f->length *= 2;
		break;
	case LIE_TRUNCATED:
	case LIE_TRUNCATED_CLOSE:
		f->length = (int)(random % (unsigned)f->length);
		break;
	case LIE_PREVIOUS:
		f->length = liar->previous_length;
		memcpy(f->bytes, liar->previous, LIAR_FRAME);
		break;
	case LIE_GARBAGE:
		f->length = 1 + (int)(random % (2 * LIAR_FRAME));
		for (int i = 0; i < f->length; i++)
			f->bytes[i] = (uint8_t)(rand_r(&random) >> 7);
		break;
	case LIE_EXCEPTION:
		except(
		    ask, ask[FUNCTION], random % 2 ? random / 2 % 12 : random / 2, f);
		break;
	case LIE_EXCEPTION_OTHER:
		except(ask, ask[FUNCTION] % 4 + 1, 1 + random % 11, f);
		break;
	case LIE_NONE:
	case LIE_SLOW:
	case LIE_IN_PARTS:
	case LIE_CLOSE_AFTER:
	case LIE_LATE:
	case LIE_SILENT:
	case LIE_HALF_OPEN:
	case LIE_DRIP:
	case LIE_DRIP_FAST:
	case LIE_CLOSE:
	case LIE_RESET:
	case LIE_CRC:
	case LIE_BIT:
	case LIE_NOISE_BEFORE:
	case LIE_ECHO:
	case LIE_COUNT:
		break;
	}
}

bool
liar_knows(const struct liar *liar, enum lie lie)
{
	switch (lie) {
	case LIE_CLOSE_AFTER:
	case LIE_HALF_OPEN:
	case LIE_TRUNCATED_CLOSE:
	case LIE_CLOSE:
	case LIE_RESET:
	case LIE_TRANSACTION:
	case LIE_PROTOCOL:
	case LIE_LENGTH:
	case LIE_PREVIOUS:
		return !liar->serial;
	case LIE_CRC:
	case LIE_BIT:
	case LIE_NOISE_BEFORE:
	case LIE_ECHO:
		return liar->serial;
	case LIE_NONE:
	case LIE_SLOW:
	case LIE_IN_PARTS:
	case LIE_EXTRA:
	case LIE_TWICE:
	case LIE_LATE:
	case LIE_SILENT:
	case LIE_DRIP:
	case LIE_DRIP_FAST:
	case LIE_TRUNCATED:
	case LIE_UNIT:
	case LIE_FUNCTION:
	case LIE_BYTE_COUNT:
	case LIE_TOO_FEW:
	case LIE_TOO_MANY:
	case LIE_GARBAGE:
	case LIE_EXCEPTION:
	case LIE_EXCEPTION_OTHER:
	case LIE_COUNT:
		break;
	}
	return true;
}

enum lie
liar_choose(struct liar *liar, unsigned *random)
{
	enum lie lie = LIE_NONE;

	*random = (unsigned)rand_r(&liar->random);
	while (liar->burst > 0 && (lie == LIE_NONE || !liar_knows(liar, lie)))
		lie = (enum lie)((unsigned)rand_r(&liar->random) % LIE_COUNT);
	liar->told[lie]++;
	return lie;
}

void
liar_compose(struct liar *liar, enum lie lie, unsigned random, const uint8_t *ask,
    struct liar_frame *frame)
{
	struct liar_frame honest;

	answer(ask, get16(ask + 10), &honest);
	*frame = honest;
	spoil_frame(liar, lie, random, ask, frame);
	spoil_data(lie, random, frame);
	memcpy(liar->previous, honest.bytes, LIAR_FRAME);
	liar->previous_length = honest.length;
}

void
liar_done(struct liar *liar)
{
	if (liar->burst > 0)
		liar->burst--;
}
