/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <math.h>

#include "contrib/linesim/tool.h"
#include "tests/unit/near.h"

static const double even[TOOL_ZONES] = {1, 1, 1, 1, 1, 1, 1, 1};

/* Without a sheet only the loss to the room warms or cools it. */
static void
an_idle_tool_settles_near_its_water(void **state)
{
	(void)state;
	struct tool tool;

	tool_init(&tool, 65);
	for (int i = 0; i < 20000; i++)
		tool_step(&tool, 65, 25);
	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		assert_near(tool.c[zone], 65, 0.5);
		assert_near(tool.return_c[zone], 65, 0.5);
		assert_true(tool.c[zone] < 65);
	}
}

/* The sheet's share, 0.6, spreads over the zones within the form window. */
static void
the_water_carries_away_what_the_sheet_gives(void **state)
{
	(void)state;
	const double given_j = 2.1e6;
	struct tool loaded, idle;
	double water_j = 0;

	tool_init(&loaded, 65);
	tool_init(&idle, 65);
	tool_close(&loaded, given_j, even);
	for (int i = 0; i < 30000; i++) {
		if (i == 1500)
			tool_open(&loaded);
		tool_step(&loaded, 65, 25);
		tool_step(&idle, 65, 25);
		for (int zone = 0; zone < TOOL_ZONES; zone++)
			water_j += (loaded.return_c[zone] - idle.return_c[zone]) *
			           68.5 * TOOL_FLOW_LPM * TOOL_STEP_S;
	}
	/* under 1 % goes to the room */
	assert_near(water_j / (0.6 * given_j), 1, 0.01);
}

static void
the_return_answers_after_its_dead_time(void **state)
{
	(void)state;
	struct tool tool;

	tool_init(&tool, 65);
	tool_close(&tool, 2.1e6, even);
	for (int i = 0; i < TOOL_DEAD_TIME_STEPS; i++)
		tool_step(&tool, 65, 25);
	assert_near(tool.return_c[0], 65, 1e-9);
	for (int i = 0; i < 100; i++)
		tool_step(&tool, 65, 25);
	assert_true(tool.return_c[0] > 65.2);
}

static double
spread(const struct tool *tool)
{
	double low = tool->c[0], high = tool->c[0];

	for (int zone = 1; zone < TOOL_ZONES; zone++) {
		low = fmin(low, tool->c[zone]);
		high = fmax(high, tool->c[zone]);
	}
	return high - low;
}

static void
a_clogged_circuit_makes_its_zone_and_its_water_hotter(void **state)
{
	(void)state;
	struct tool tool;

	tool_init(&tool, 65);
	tool.flow_ratio[1] = 0.3;
	for (int shot = 0; shot < 8; shot++) {
		tool_close(&tool, 2.1e6, even);
		for (int i = 0; i < 1500; i++)
			tool_step(&tool, 65, 25);
	}
	assert_true(spread(&tool) > 1.5);
	assert_true(tool.c[1] > tool.c[0] && tool.c[1] > tool.c[2]);
	assert_true(tool.return_c[1] - 65 > 1.7 * (tool.return_c[5] - 65));
	assert_near(tool_flow_lpm(&tool, 1), 2.4, 1e-12);
}

static void
work(struct tool *tool, int shots)
{
	for (int shot = 0; shot < shots; shot++) {
		tool_close(tool, 2.1e6, even);
		for (int i = 0; i < 1500; i++)
			tool_step(tool, 65, 25);
	}
}

/* The zone is hot and its return still falls below the supply, towards the hall. */
static void
water_that_stands_cools_on_its_way(void **state)
{
	(void)state;
	struct tool tool;

	tool_init(&tool, 65);
	tool.flow_ratio[1] = 0.02;
	work(&tool, 12);
	assert_true(tool.c[1] > tool.c[5] + 3);
	assert_true(tool.return_c[1] < 62);
	assert_true(tool.return_c[1] > 25);
	tool.flow_ratio[1] = 1;
	work(&tool, 4);
	assert_near(tool.return_c[1], tool.return_c[5], 0.2);
}

static void
scale_keeps_the_heat_in_the_tool_at_the_same_flow(void **state)
{
	(void)state;
	struct tool clean, scaled;

	tool_init(&clean, 65);
	tool_init(&scaled, 65);
	scaled.exchange[1] = 0.5;
	work(&clean, 8);
	work(&scaled, 8);
	assert_true(scaled.c[1] > clean.c[1] + 0.15);
	assert_true(scaled.to_water_j[1] < 0.95 * clean.to_water_j[1]);
	assert_true(scaled.to_water_j[2] > clean.to_water_j[2]);
	assert_near(tool_flow_lpm(&scaled, 1), TOOL_FLOW_LPM, 1e-12);
}

static void
a_weak_pump_warms_all_the_water_more(void **state)
{
	(void)state;
	struct tool usual, weak;

	tool_init(&usual, 65);
	tool_init(&weak, 65);
	weak.pump = 0.5;
	work(&usual, 8);
	work(&weak, 8);
	for (int zone = 0; zone < TOOL_ZONES; zone++) {
		assert_near(tool_flow_lpm(&weak, zone), TOOL_FLOW_LPM / 2, 1e-12);
		assert_true(
		    weak.return_c[zone] - 65 > 1.5 * (usual.return_c[zone] - 65));
	}
}

static void
a_zone_that_the_sheet_does_not_touch_gets_no_heat(void **state)
{
	(void)state;
	struct tool tool;

	tool_init(&tool, 65);
	tool.contact[0] = 0;
	work(&tool, 1);
	assert_true(tool.c[0] < tool.c[4] - 0.5);
	assert_true(tool.to_water_j[0] < 0.5 * tool.to_water_j[4]);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(an_idle_tool_settles_near_its_water),
	    cmocka_unit_test(the_water_carries_away_what_the_sheet_gives),
	    cmocka_unit_test(the_return_answers_after_its_dead_time),
	    cmocka_unit_test(a_clogged_circuit_makes_its_zone_and_its_water_hotter),
	    cmocka_unit_test(water_that_stands_cools_on_its_way),
	    cmocka_unit_test(scale_keeps_the_heat_in_the_tool_at_the_same_flow),
	    cmocka_unit_test(a_weak_pump_warms_all_the_water_more),
	    cmocka_unit_test(a_zone_that_the_sheet_does_not_touch_gets_no_heat),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
