/* SPDX-License-Identifier: GPL-3.0-or-later */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>

#include "contrib/linesim/registers.h"
#include "tests/unit/published.h"

/* IEEE 754 single: 123456.0 is 0x47F12000, 123.456 is 0x42F6E979, -1.5 is 0xBFC00000. */
static void
floats_are_sent_in_all_four_orders(void **state)
{
	(void)state;
	static const struct {
		float value;
		enum word_order order;
		uint16_t words[2];
	} known[] = {{123456.0F, ORDER_ABCD, {0x47f1, 0x2000}},
	    {123.456F, ORDER_ABCD, {0x42f6, 0xe979}},
	    {123.456F, ORDER_CDAB, {0xe979, 0x42f6}},
	    {123.456F, ORDER_BADC, {0xf642, 0x79e9}},
	    {123.456F, ORDER_DCBA, {0x79e9, 0xf642}},
	    {-1.5F, ORDER_BADC, {0xc0bf, 0x0000}}};
	struct published_table table =
	    published_begin(SOURCE_IEEE_754, "words of 123456, 123.456 and -1.5 in "
					     "four orders, as the simulated line sends "
					     "them");

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		uint16_t words[2];
		registers_put_float(words, known[i].order, known[i].value);
		published_add(&table, words[0], known[i].words[0], 0);
		published_add(&table, words[1], known[i].words[1], 0);
	}
	published_end(&table);
}

static void
counters_carry_into_the_high_word(void **state)
{
	(void)state;
	uint16_t words[2];

	registers_put_u32(words, ORDER_ABCD, 65536 + 2);
	assert_int_equal(words[0], 1);
	assert_int_equal(words[1], 2);
	registers_put_u32(words, ORDER_CDAB, 65536 + 2);
	assert_int_equal(words[0], 2);
	assert_int_equal(words[1], 1);
}

static void
tenths_never_look_like_a_broken_sensor(void **state)
{
	(void)state;
	assert_int_equal(registers_int16(-10.0, 0.1), 0xff9c);
	assert_int_equal(registers_int16(182.34, 0.1), 1823);
	assert_int_equal(registers_int16(99999, 0.1), 0x7ffe);
	assert_int_equal(registers_int16(-99999, 0.1), 0x8001);
	assert_int_equal(registers_uint16(-3, 0.1), 0);
	assert_int_equal(registers_uint16(55.125, 0.01), 5513);
}

static struct registers registers;

static void
values_stand_where_the_map_says(void **state)
{
	(void)state;
	struct signals signals = {.sheet_at_form = true,
	    .automatic = true,
	    .recipe = 12,
	    .cycle_count = 70000,
	    .vacuum_mbar = {-850, 0},
	    .ovens[0] = {.surface_c = {{150.0, 151.0, 152.0}, {153.0, 154.0, 155.0}},
		.energy_kwh = 81234.56},
	    .tools[0].supply_c = 123.456};

	signals.ovens[0].output_percent[1][23] = 55.12;
	signals.ovens[0].set_percent[1][23] = 38.2;
	signals.tools[0].tool_c[7] = 123.456;
	signals.tools[0].flow_lpm[7] = 8.0;
	registers_init(&registers);
	registers_update(&registers, &signals, 1);
	const struct bank *banks = registers.banks;
	assert_int_equal(banks[DEVICE_CONTROLLER].word[TABLE_HOLDING][10], 6);
	assert_int_equal(banks[DEVICE_CONTROLLER].word[TABLE_HOLDING][12], 1);
	assert_int_equal(banks[DEVICE_CONTROLLER].word[TABLE_HOLDING][13], 4464);
	assert_int_equal(banks[DEVICE_CONTROLLER].word[TABLE_HOLDING][20], 0xfcae);
	assert_int_equal(banks[DEVICE_PYROMETERS].word[TABLE_INPUT][5], 1550);
	assert_int_equal(banks[DEVICE_OVENS].word[TABLE_HOLDING][123], 5512);
	assert_int_equal(banks[DEVICE_OVENS].word[TABLE_HOLDING][200], 8123456 % 65536);
	assert_int_equal(banks[DEVICE_OVENS].word[TABLE_HOLDING][201], 8123456 / 65536);
	assert_int_equal(banks[DEVICE_OVENS].word[TABLE_HOLDING][347], 382);
	assert_int_equal(banks[DEVICE_WATER].word[TABLE_HOLDING][14], 0xe979);
	assert_int_equal(banks[DEVICE_WATER].word[TABLE_HOLDING][15], 0x42f6);
	assert_int_equal(banks[DEVICE_WATER].word[TABLE_HOLDING][60], 0xf642);
	assert_int_equal(banks[DEVICE_WATER].word[TABLE_HOLDING][77], 80);
}

static void
each_side_has_bits_of_its_own(void **state)
{
	(void)state;
	struct signals signals = {.form_closed = {true, false},
	    .oven_in = {false, true},
	    .clamp_closed = {false, true},
	    .sheet_in_frame = {true, false}};
	const uint16_t *bits = registers.banks[DEVICE_CONTROLLER].word[TABLE_DISCRETE];
	const uint16_t *words = registers.banks[DEVICE_CONTROLLER].word[TABLE_HOLDING];
	static const uint16_t expected[] = {0, 1, 0, 0, 0, 0, 1, 1};

	registers_init(&registers);
	registers_update(&registers, &signals, 1);
	for (size_t i = 0; i < sizeof expected / sizeof expected[0]; i++)
		assert_int_equal(bits[i], expected[i]);
	assert_int_equal(words[10], 1 << 4);
	signals.sheet_in_frame[1] = true;
	registers_update(&registers, &signals, 2);
	assert_int_equal(words[10], 1 << 4 | 1 << 5);
}

/* The second device of a sort has the first one's map and its own values. */
static void
a_second_oven_and_a_second_tool_have_the_map_of_the_first(void **state)
{
	(void)state;
	struct signals signals = {0};
	const struct bank *banks = registers.banks;

	signals.ovens[0].set_percent[0][0] = 95;
	signals.ovens[1].set_percent[0][0] = 57;
	signals.ovens[1].surface_c[1][2] = 155;
	signals.tools[1].flow_lpm[7] = 8;
	registers_init(&registers);
	registers_update(&registers, &signals, 1);
	assert_int_equal(banks[DEVICE_OVENS].word[TABLE_HOLDING][300], 950);
	assert_int_equal(banks[DEVICE_OVENS_B].word[TABLE_HOLDING][300], 570);
	assert_int_equal(banks[DEVICE_PYROMETERS].word[TABLE_INPUT][5], 0);
	assert_int_equal(banks[DEVICE_PYROMETERS_B].word[TABLE_INPUT][5], 1550);
	assert_int_equal(banks[DEVICE_WATER].word[TABLE_HOLDING][77], 0);
	assert_int_equal(banks[DEVICE_WATER_B].word[TABLE_HOLDING][77], 80);
	for (int table = 0; table < TABLE_COUNT; table++) {
		assert_memory_equal(banks[DEVICE_OVENS].served[table],
		    banks[DEVICE_OVENS_B].served[table], TABLE_SIZE);
		assert_memory_equal(banks[DEVICE_WATER].served[table],
		    banks[DEVICE_WATER_B].served[table], TABLE_SIZE);
	}
}

static void
a_device_is_there_where_its_oven_or_side_is(void **state)
{
	(void)state;
	for (int device = 0; device <= DEVICE_WATER; device++)
		assert_true(registers_have((enum device)device, 1, 1));
	for (int device = DEVICE_WATER + 1; device < DEVICE_COUNT; device++)
		assert_false(registers_have((enum device)device, 1, 1));
	assert_true(registers_have(DEVICE_OVENS_B, 2, 1));
	assert_true(registers_have(DEVICE_PYROMETERS_B, 2, 1));
	assert_false(registers_have(DEVICE_WATER_B, 2, 1));
	assert_true(registers_have(DEVICE_WATER_B, 1, 2));
	assert_false(registers_have(DEVICE_OVENS_B, 1, 2));
}

static void
an_open_sensor_and_a_frozen_value_end_when_they_should(void **state)
{
	(void)state;
	struct signals signals = {.stack_c = 20};
	int stack = registers_find_point("pyrometers.stack");
	int flow = registers_find_point("water.water_flow_8");
	uint16_t *stack_word, *flow_word;

	assert_true(stack >= 0 && flow >= 0);
	registers_init(&registers);
	stack_word = &registers.banks[DEVICE_PYROMETERS].word[TABLE_INPUT][20];
	flow_word = &registers.banks[DEVICE_WATER].word[TABLE_HOLDING][77];
	signals.tools[0].flow_lpm[7] = 8;
	registers_update(&registers, &signals, 0);
	registers.open_until[stack] = 10;
	registers.frozen_until[flow] = 10;
	signals.tools[0].flow_lpm[7] = 4;
	registers_update(&registers, &signals, 9);
	assert_int_equal(*stack_word, 0x7fff);
	assert_int_equal(*flow_word, 80);
	registers_update(&registers, &signals, 10);
	assert_int_equal(*stack_word, 200);
	assert_int_equal(*flow_word, 40);
}

static void
only_sensors_of_the_map_have_names(void **state)
{
	(void)state;
	assert_true(registers_find_point("water.tool_3") >= 0);
	assert_true(registers_find_point("ovens.zone_bottom_24") >= 0);
	assert_true(registers_find_point("water-b.tool_3") >
		    registers_find_point("water.tool_3"));
	assert_int_equal(registers_find_point("water.tool_9"), -1);
	assert_int_equal(registers_find_point("water.tool"), -1);
	assert_int_equal(registers_find_point("controller.rotating"), -1);
}

static void
a_sensor_can_be_off_or_stand_for_another(void **state)
{
	(void)state;
	struct signals signals = {.stack_c = 20, .ambient_c = 30};
	const uint16_t *words = registers.banks[DEVICE_PYROMETERS].word[TABLE_INPUT];
	int stack = registers_find_point("pyrometers.stack");
	int ambient = registers_find_point("pyrometers.ambient");

	registers_init(&registers);
	registers.offset[stack] = 1.5;
	registers_update(&registers, &signals, 0);
	assert_int_equal(words[20], 215);
	registers.swapped_until[stack] = registers.swapped_until[ambient] = 10;
	registers.other[stack] = ambient;
	registers.other[ambient] = stack;
	registers_update(&registers, &signals, 9);
	assert_int_equal(words[20], 315);
	assert_int_equal(words[21], 200);
	registers_update(&registers, &signals, 10);
	assert_int_equal(words[20], 215);
	assert_int_equal(words[21], 300);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(floats_are_sent_in_all_four_orders),
	    cmocka_unit_test(counters_carry_into_the_high_word),
	    cmocka_unit_test(tenths_never_look_like_a_broken_sensor),
	    cmocka_unit_test(values_stand_where_the_map_says),
	    cmocka_unit_test(each_side_has_bits_of_its_own),
	    cmocka_unit_test(a_second_oven_and_a_second_tool_have_the_map_of_the_first),
	    cmocka_unit_test(a_device_is_there_where_its_oven_or_side_is),
	    cmocka_unit_test(an_open_sensor_and_a_frozen_value_end_when_they_should),
	    cmocka_unit_test(only_sensors_of_the_map_have_names),
	    cmocka_unit_test(a_sensor_can_be_off_or_stand_for_another),
	};
	return cmocka_run_group_tests(tests, NULL, NULL);
}
