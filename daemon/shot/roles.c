/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/roles.h"

#include "daemon/base/error.h"

#include <math.h>
#include <stdlib.h>

#define EDGE_POLLS 4.0   /* the controller silent this many polls ... */
#define EDGE_LEAST_S 5.0 /* ... and this long: an edge may have gone by unseen */
/* Where no counter tells of a whole index that went by: two polls, and no ring turns in
 * less (common practice, no source). */
#define INDEX_POLLS 2.0
#define INDEX_LEAST_S 3.0

static bool
is_measure(enum role role)
{
	return role > ROLE_RECIPE;
}

static bool
of_side(const struct settings *settings, const struct channel_settings *channel,
    uint32_t line, int side)
{
	return settings->devices[channel->device].line == line &&
	       (channel->side < 0 || channel->side == side);
}

static uint32_t *
list_new(size_t count)
{
	return calloc(count, sizeof(uint32_t));
}

/* Makes the lists; each has room for every channel of the side. */
static int
roles_allocate(struct roles *roles, size_t count)
{
	bool short_of_memory;

	count += 1;
	roles->tool = list_new(count);
	roles->water_return = list_new(count);
	roles->water_supply = calloc(count, sizeof(*roles->water_supply));
	roles->water_flow = calloc(count, sizeof(*roles->water_flow));
	roles->set_point = list_new(count);
	roles->all = list_new(count);
	short_of_memory = roles->tool == NULL || roles->water_return == NULL ||
	                  roles->water_supply == NULL || roles->water_flow == NULL ||
	                  roles->set_point == NULL || roles->all == NULL;
	for (int i = 0; i < 2 * roles->oven_count; i++) {
		struct oven_roles *oven = &roles->ovens[i / 2];

		oven->surface[i % 2] = list_new(count);
		oven->zone[i % 2] = list_new(count);
		short_of_memory |=
		    oven->surface[i % 2] == NULL || oven->zone[i % 2] == NULL;
	}
	return short_of_memory ? ERROR_MEMORY : 0;
}

/* Puts the channel where its position says; positions have no holes (conf checks). */
static void
place(
    uint32_t *list, int *count, const struct channel_settings *channel, uint32_t index)
{
	list[channel->position > 0 ? channel->position - 1 : *count] = index;
	if (channel->position > *count)
		*count = channel->position;
}

static void
roles_take(struct roles *roles, const struct channel_settings *channel, uint32_t index)
{
	struct oven_roles *oven = &roles->ovens[channel->oven];
	int below =
	    channel->role == ROLE_SURFACE_BOTTOM || channel->role == ROLE_ZONE_BOTTOM;

	if (is_measure(channel->role))
		roles->all[roles->all_count++] = index;
	switch (channel->role) {
	case ROLE_ROTATING:
	case ROLE_FORM_CLOSED:
	case ROLE_OVEN_IN:
	case ROLE_CLAMP_CLOSED:
	case ROLE_SHEET_IN_FRAME:
	case ROLE_SAG_EYE:
	case ROLE_SHEET_AT_LOAD:
	case ROLE_SHEET_AT_FORM:
	case ROLE_AUTOMATIC:
	case ROLE_FAULT:
	case ROLE_CYCLE_COUNT:
	case ROLE_RECIPE:
		roles->bit[channel->role] = (int32_t)index;
		break;
	case ROLE_SURFACE_TOP:
	case ROLE_SURFACE_BOTTOM:
		place(
		    oven->surface[below], &oven->surface_count[below], channel, index);
		break;
	case ROLE_ZONE_TOP:
	case ROLE_ZONE_BOTTOM:
		place(oven->zone[below], &oven->zone_count[below], channel, index);
		break;
	case ROLE_OVEN_AIR:
		oven->air = (int32_t)index;
		break;
	case ROLE_TOOL:
		place(roles->tool, &roles->tool_count, channel, index);
		break;
	case ROLE_WATER_RETURN:
		place(roles->water_return, &roles->circuit_count, channel, index);
		break;
	case ROLE_STACK:
		roles->stack = (int32_t)index;
		break;
	case ROLE_ENERGY_METER:
		roles->meter = (int32_t)index;
		break;
	case ROLE_SET_POINT:
		roles->set_point[roles->set_point_count++] = index;
		break;
	case ROLE_AMBIENT:
		roles->ambient = (int32_t)index;
		break;
	case ROLE_WATER_SUPPLY:
	case ROLE_WATER_FLOW:
	case ROLE_OTHER:
	case ROLE_COUNT:
		break;
	}
}

/* Gives every circuit its flow, and its supply: its own, or the common one. */
static void
roles_water(struct roles *roles, const struct settings *settings)
{
	int32_t common = ROLES_NONE;

	for (int k = 0; k < roles->circuit_count; k++)
		roles->water_supply[k] = roles->water_flow[k] = ROLES_NONE;
	for (size_t i = 0; i < roles->all_count; i++) {
		const struct channel_settings *channel =
		    &settings->channels[roles->all[i]];

		if (channel->role == ROLE_WATER_FLOW && channel->position > 0 &&
		    channel->position <= roles->circuit_count)
			roles->water_flow[channel->position - 1] =
			    (int32_t)roles->all[i];
		if (channel->role != ROLE_WATER_SUPPLY)
			continue;
		if (channel->position == 0)
			common = (int32_t)roles->all[i];
		else if (channel->position <= roles->circuit_count)
			roles->water_supply[channel->position - 1] =
			    (int32_t)roles->all[i];
	}
	for (int k = 0; k < roles->circuit_count; k++)
		if (roles->water_supply[k] == ROLES_NONE)
			roles->water_supply[k] = common;
}

int
roles_init(
    struct roles *roles, const struct settings *settings, uint32_t line, int side)
{
	const struct channel_settings *channels = settings->channels;
	size_t count = 0;

	*roles = (struct roles){.stack = ROLES_NONE,
	    .meter = ROLES_NONE,
	    .ambient = ROLES_NONE,
	    .oven_count = settings->lines[line].oven_count};
	for (size_t i = 0; i < sizeof(roles->bit) / sizeof(roles->bit[0]); i++)
		roles->bit[i] = ROLES_NONE;
	for (int i = 0; i < roles->oven_count; i++)
		roles->ovens[i].air = ROLES_NONE;
	for (size_t i = 0; i < settings->channel_count; i++)
		count += of_side(settings, &channels[i], line, side);
	if (roles_allocate(roles, count) != 0) {
		roles_release(roles);
		return ERROR_MEMORY;
	}
	for (size_t i = 0; i < settings->channel_count; i++)
		if (of_side(settings, &channels[i], line, side))
			roles_take(roles, &channels[i], (uint32_t)i);
	roles_water(roles, settings);
	return 0;
}

void
roles_release(struct roles *roles)
{
	for (int i = 0; i < 2 * roles->oven_count; i++) {
		free(roles->ovens[i / 2].surface[i % 2]);
		free(roles->ovens[i / 2].zone[i % 2]);
	}
	free(roles->tool);
	free(roles->water_return);
	free(roles->water_supply);
	free(roles->water_flow);
	free(roles->set_point);
	free(roles->all);
	*roles = (struct roles){.all_count = 0};
}

/* Of a bit that is polled so often, on this line. */
static double
limit_s(const struct roles *roles, double period_s)
{
	if (roles->bit[ROLE_ROTATING] != ROLES_NONE &&
	    roles->bit[ROLE_CYCLE_COUNT] == ROLES_NONE)
		return fmax(INDEX_LEAST_S, INDEX_POLLS * period_s);
	return fmax(EDGE_LEAST_S, EDGE_POLLS * period_s);
}

double
roles_edge_limit_s(const struct settings *settings, const struct roles *roles)
{
	static const enum role movers[] = {
	    ROLE_ROTATING, ROLE_OVEN_IN, ROLE_CYCLE_COUNT};

	for (size_t i = 0; i < sizeof(movers) / sizeof(movers[0]); i++)
		if (roles->bit[movers[i]] != ROLES_NONE)
			return limit_s(
			    roles, settings->channels[roles->bit[movers[i]]].period_s);
	return EDGE_LEAST_S;
}

double
roles_silence_s(
    const struct settings *settings, const struct roles *roles, enum role bit)
{
	double mover_s = roles_edge_limit_s(settings, roles);

	if (roles->bit[bit] == ROLES_NONE)
		return mover_s;
	return fmax(
	    mover_s, limit_s(roles, settings->channels[roles->bit[bit]].period_s));
}
