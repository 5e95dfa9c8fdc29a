/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <string.h>

#include "conf/settings.h"
#include "daemon/shot/roles.h"

struct part {
	enum role role;
	int position, oven, side;
};

enum { PARTS_MAX = 24 };

/* A line of these channels, all of one device. */
struct bench {
	struct settings settings;
	struct line_settings line;
	struct device_settings device;
	struct channel_settings channels[PARTS_MAX];
	struct roles roles;
};

static void
look_up(
    struct bench *bench, const struct part *parts, size_t count, int ovens, int side)
{
	memset(bench, 0, sizeof(*bench));
	bench->line.oven_count = ovens;
	for (size_t i = 0; i < count; i++) {
		bench->channels[i].role = parts[i].role;
		bench->channels[i].position = parts[i].position;
		bench->channels[i].oven = parts[i].oven;
		bench->channels[i].side = parts[i].side;
	}
	bench->settings.lines = &bench->line;
	bench->settings.devices = &bench->device;
	bench->settings.device_count = 1;
	bench->settings.channels = bench->channels;
	bench->settings.channel_count = count;
	assert_int_equal(roles_init(&bench->roles, &bench->settings, 0, side), 0);
}

static const struct part shuttle[] = {
    {ROLE_OVEN_IN, 0, 0, 0},       /* 0 */
    {ROLE_OVEN_IN, 0, 0, 1},       /* 1 */
    {ROLE_SAG_EYE, 0, 0, -1},      /* 2 */
    {ROLE_SURFACE_TOP, 1, 0, -1},  /* 3 */
    {ROLE_TOOL, 2, 0, 0},          /* 4 */
    {ROLE_TOOL, 1, 0, 0},          /* 5 */
    {ROLE_TOOL, 1, 0, 1},          /* 6 */
    {ROLE_WATER_RETURN, 1, 0, 1},  /* 7 */
    {ROLE_WATER_SUPPLY, 0, 0, -1}, /* 8 */
    {ROLE_SET_POINT, 3, 0, 1},     /* 9 */
    {ROLE_SET_POINT, 1, 0, -1},    /* 10 */
    {ROLE_OTHER, 0, 0, 0},         /* 11 */
};

static void
each_side_has_its_own_channels_and_the_common_ones(void **state)
{
	static const uint32_t left_all[] = {3, 4, 5, 8, 10, 11};
	static const uint32_t right_all[] = {3, 6, 7, 8, 9, 10};
	struct bench bench;
	const struct roles *roles = &bench.roles;

	(void)state;
	look_up(&bench, shuttle, sizeof(shuttle) / sizeof(shuttle[0]), 1, 0);
	assert_int_equal(roles->bit[ROLE_OVEN_IN], 0);
	assert_int_equal(roles->bit[ROLE_SAG_EYE], 2);
	assert_int_equal(roles->bit[ROLE_CLAMP_CLOSED], ROLES_NONE);
	assert_int_equal(roles->tool_count, 2);
	assert_int_equal(roles->tool[0], 5); /* by position, not in the file's order */
	assert_int_equal(roles->tool[1], 4);
	assert_int_equal(roles->circuit_count, 0);
	assert_int_equal(roles->set_point_count, 1);
	assert_int_equal(roles->all_count, 6);
	assert_memory_equal(roles->all, left_all, sizeof(left_all));
	roles_release(&bench.roles);
	look_up(&bench, shuttle, sizeof(shuttle) / sizeof(shuttle[0]), 1, 1);
	assert_int_equal(roles->bit[ROLE_OVEN_IN], 1);
	assert_int_equal(roles->tool_count, 1);
	assert_int_equal(roles->circuit_count, 1);
	assert_int_equal(roles->water_supply[0], 8);
	assert_int_equal(roles->ovens[0].surface_count[0], 1);
	assert_int_equal(roles->ovens[0].surface[0][0], 3);
	assert_int_equal(roles->set_point_count, 2);
	assert_int_equal(roles->set_point[0], 9);
	assert_int_equal(roles->set_point[1], 10);
	assert_memory_equal(roles->all, right_all, sizeof(right_all));
	roles_release(&bench.roles);
}

static void
each_oven_has_its_own_surfaces_and_zones(void **state)
{
	static const struct part parts[] = {{ROLE_SURFACE_TOP, 1, 0, -1},
	    {ROLE_SURFACE_TOP, 2, 0, -1}, {ROLE_SURFACE_TOP, 1, 1, -1},
	    {ROLE_SURFACE_BOTTOM, 1, 1, -1}, {ROLE_ZONE_TOP, 1, 0, -1},
	    {ROLE_ZONE_BOTTOM, 1, 0, -1}, {ROLE_ZONE_BOTTOM, 2, 0, -1},
	    {ROLE_ZONE_TOP, 1, 1, -1}};
	struct bench bench;
	const struct oven_roles *a = &bench.roles.ovens[0], *b = &bench.roles.ovens[1];

	(void)state;
	look_up(&bench, parts, sizeof(parts) / sizeof(parts[0]), 2, 0);
	assert_int_equal(bench.roles.oven_count, 2);
	assert_int_equal(a->surface_count[0], 2);
	assert_int_equal(a->surface_count[1], 0);
	assert_int_equal(a->zone_count[0], 1);
	assert_int_equal(a->zone_count[1], 2);
	assert_int_equal(a->zone[1][1], 6);
	assert_int_equal(b->surface_count[0], 1);
	assert_int_equal(b->surface[0][0], 2);
	assert_int_equal(b->surface[1][0], 3);
	assert_int_equal(b->zone_count[1], 0);
	assert_int_equal(b->zone[0][0], 7);
	assert_int_equal(bench.roles.all_count, 8);
	roles_release(&bench.roles);
}

static void
a_circuit_without_a_supply_of_its_own_has_the_common_one(void **state)
{
	static const struct part parts[] = {{ROLE_WATER_RETURN, 1, 0, -1},
	    {ROLE_WATER_RETURN, 2, 0, -1}, {ROLE_WATER_SUPPLY, 2, 0, -1},
	    {ROLE_WATER_SUPPLY, 0, 0, -1}};
	struct bench bench;

	(void)state;
	look_up(&bench, parts, sizeof(parts) / sizeof(parts[0]), 1, 0);
	assert_int_equal(bench.roles.circuit_count, 2);
	assert_int_equal(bench.roles.water_supply[0], 3);
	assert_int_equal(bench.roles.water_supply[1], 2);
	roles_release(&bench.roles);
	look_up(&bench, parts, 2, 1, 0);
	assert_int_equal(bench.roles.water_supply[0], ROLES_NONE);
	roles_release(&bench.roles);
}

static void
a_line_without_channels_has_no_roles(void **state)
{
	struct bench bench;

	(void)state;
	look_up(&bench, shuttle, 0, 1, 0);
	for (int role = 0; role <= ROLE_RECIPE; role++)
		assert_int_equal(bench.roles.bit[role], ROLES_NONE);
	assert_int_equal(bench.roles.all_count, 0);
	assert_int_equal(bench.roles.stack, ROLES_NONE);
	roles_release(&bench.roles);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(each_side_has_its_own_channels_and_the_common_ones),
	    cmocka_unit_test(each_oven_has_its_own_surfaces_and_zones),
	    cmocka_unit_test(a_circuit_without_a_supply_of_its_own_has_the_common_one),
	    cmocka_unit_test(a_line_without_channels_has_no_roles),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
