/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/doubt.h"

#include <assert.h>

#include "conf/register.h"
#include "daemon/fieldbus/frame.h"

double
doubt_after_s(double timeout_s)
{
	return 4 * timeout_s;
}

bool
doubt_has(const struct doubt *doubt, size_t data_bytes)
{
	return doubt->lengths[data_bytes / 8] & 1U << data_bytes % 8;
}

static bool
may_come(const struct doubt *doubt, const struct read_block *block)
{
	return doubt_has(doubt, frame_data_bytes(block));
}

void
doubt_add(struct doubt *doubt, const struct read_block *block, double timeout_s)
{
	size_t bytes = frame_data_bytes(block);

	assert(bytes / 8 < sizeof doubt->lengths);
	doubt->on = true;
	doubt->lengths[bytes / 8] |= (uint8_t)(1U << bytes % 8);
	doubt->until = limit_from_now(doubt_after_s(timeout_s));
}

void
doubt_strangers(struct doubt *doubt, double timeout_s)
{
	doubt->strange = true;
	doubt->strange_until = limit_from_now(doubt_after_s(timeout_s));
}

void
doubt_clear(struct doubt *doubt)
{
	*doubt = (struct doubt){0};
}

/* The longest beginning of the block whose reply can be told. */
static bool
find_probe(const struct doubt *doubt, struct read_block *probe)
{
	uint16_t step = register_is_bit(probe->table) ? 8 : 1;

	while (probe->count > step) {
		probe->count = (uint16_t)(probe->count - step);
		if (!may_come(doubt, probe))
			return true;
	}
	return false;
}

enum doubt_way
doubt_look(
    struct doubt *doubt, const struct read_block *block, struct read_block *probe)
{
	bool mine;

	if (doubt->strange && limit_is_over(&doubt->strange_until))
		doubt->strange = false;
	mine = doubt->on && may_come(doubt, block);
	if (!mine && !doubt->strange)
		return DOUBT_ASK;
	*probe = *block;
	if (find_probe(doubt, probe))
		return DOUBT_PROBE;
	if (!mine)
		return DOUBT_ASK;
	if (!limit_is_over(&doubt->until))
		return DOUBT_WAIT;
	doubt_clear(doubt);
	return DOUBT_ASK;
}
