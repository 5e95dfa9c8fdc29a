/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/decode.h"

#include <assert.h>

#include "conf/raw.h"
#include "conf/register.h"

static uint16_t
swap_bytes(uint16_t word)
{
	return (uint16_t)(word << 8 | word >> 8);
}

static uint32_t
join(uint16_t high, uint16_t low)
{
	return (uint32_t)high << 16 | low;
}

static uint32_t
join_in_order(enum word_order order, const uint16_t *words)
{
	switch (order) {
	case WORD_ORDER_ABCD:
		return join(words[0], words[1]);
	case WORD_ORDER_BADC:
		return join(swap_bytes(words[0]), swap_bytes(words[1]));
	case WORD_ORDER_CDAB:
		return join(words[1], words[0]);
	case WORD_ORDER_DCBA:
		return join(swap_bytes(words[1]), swap_bytes(words[0]));
	}
	assert(!"a word order");
	return 0;
}

struct reading
decode_reading(const struct channel_settings *channel, const uint16_t *words)
{
	bool wide = register_width(channel->encoding) == 2;

	return raw_reading(
	    channel, wide ? join_in_order(channel->order, words) : words[0]);
}
