/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The constant tables: features, settings, roles. */
#include "conf/feature.h"

#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <string.h>
#include <cmocka.h>

#include "conf/machine.h"
#include "conf/register.h"
#include "conf/role.h"
#include "conf/schema.h"
#include "conf/settings.h"
#include "conf/words.h"
#include "tests/unit/near.h"

static void
every_feature_is_found_by_its_name_alone(void **state)
{
	(void)state;
	for (int id = 0; id < FEATURE_COUNT; id++) {
		const struct feature *feature = feature_get(id);

		assert_non_null(feature->name);
		assert_int_equal(feature_find(feature->name), id);
		assert_true(feature->version >= 1);
		assert_true(strlen(feature->meaning) > 10);
	}
	assert_int_equal(feature_find("water_rise_25_dc"), -1);
	assert_int_equal(feature_find(""), -1);
	assert_int_equal(
	    feature_find("exit_bottom_8_c"), FEATURE_EXIT_BOTTOM_FIRST + 7);
	assert_int_equal(feature_find("reynolds_24"), FEATURE_COUNT - 1);
}

static bool
ends_with(const char *name, const char *end)
{
	size_t length = strlen(name), end_length = strlen(end);

	return length > end_length && strcmp(name + length - end_length, end) == 0;
}

static const char *
suffix_of(enum dimension dimension)
{
	switch (dimension) {
	case DIMENSION_TEMPERATURE:
		return "_c";
	case DIMENSION_TEMPERATURE_DIFFERENCE:
		return "_dc";
	case DIMENSION_TEMPERATURE_RATE:
		return "_c_per_s";
	case DIMENSION_TIME:
		return "_s";
	case DIMENSION_ENERGY:
		return "_kwh";
	case DIMENSION_FLOW:
		return "_l_min";
	case DIMENSION_LENGTH:
		return "_mm";
	case DIMENSION_THERMAL_RESISTANCE:
		return "_k_per_kw";
	case DIMENSION_NONE:
	case DIMENSION_RATIO:
		return NULL;
	case DIMENSION_POWER:
	case DIMENSION_PRESSURE:
		break;
	}
	fail_msg("no feature has dimension %d", dimension);
	return NULL;
}

static void
the_name_of_a_feature_ends_in_its_unit(void **state)
{
	(void)state;
	for (int id = 0; id < FEATURE_COUNT; id++) {
		const char *suffix = suffix_of(feature_get(id)->dimension);

		if (suffix)
			assert_true(ends_with(feature_get(id)->name, suffix));
	}
}

static void
the_unit_on_file_is_that_of_the_name(void **state)
{
	(void)state;
	assert_near(feature_from_si(FEATURE_METER_KWH, 7.2e6), 2, 1e-15);
	assert_string_equal(feature_unit_text(FEATURE_METER_KWH), "kWh");
	assert_near(feature_from_si(FEATURE_EXIT_TOP_C, 180.5), 180.5, 0);
	assert_near(feature_from_si(FEATURE_RATE_TOP, 1.5), 1.5, 0);
	assert_string_equal(feature_unit_text(FEATURE_RATE_TOP), "K/s");
	assert_near(feature_from_si(FEATURE_SATURATION_MAX, 0.25), 0.25, 0);
	assert_near(feature_from_si(FEATURE_SHEET_THICKNESS_MM, 0.00635), 6.35, 1e-12);
	assert_near(feature_to_si(FEATURE_WATER_FLOW_FIRST, 6), 1e-4, 1e-18);
	assert_near(feature_from_si(FEATURE_RESISTANCE_FIRST + 1, 0.002), 2, 1e-12);
	assert_string_equal(
	    feature_get(FEATURE_REYNOLDS_FIRST + 23)->name, "reynolds_24");
}

static void
a_near_feature_is_found(void **state)
{
	(void)state;
	assert_string_equal(feature_nearest("exit_tpo_c"), "exit_top_c");
	assert_string_equal(
	    feature_nearest("tool_spread_of"), "tool_spread_of_means_dc");
	assert_null(feature_nearest("wall_thickness"));
}

static void
every_setting_can_be_told_to_a_person(void **state)
{
	size_t count;
	const struct setting *settings = schema_settings(&count);

	(void)state;
	for (size_t i = 0; i < count; i++) {
		const struct setting *setting = settings + i;

		assert_ptr_equal(schema_find(setting->section, setting->name), setting);
		assert_true(strlen(setting->help) > 5);
		assert_true(strlen(schema_type_text(setting->type)) > 0);
		assert_true(
		    (setting->type == TYPE_WORD || setting->type == TYPE_EVENTS) ==
		    (setting->words != NULL));
		assert_true(setting->minimum <= setting->maximum);
		if (strcmp(setting->unit, "s") == 0 || strcmp(setting->unit, "ms") == 0)
			assert_true(ends_with(setting->name, "s"));
	}
	for (int kind = 0; kind < SECTION_COUNT; kind++)
		assert_true(strlen(schema_section((enum section_kind)kind)->help) > 5);
	assert_null(schema_find(SECTION_MATERIAL, "name"));
}

static void
every_role_has_a_word_and_a_meaning(void **state)
{
	(void)state;
	for (int role = 0; role < ROLE_COUNT; role++) {
		assert_int_equal(
		    words_find(&words_role, role_text((enum role)role)), role);
		assert_true(role_get((enum role)role)->positions <= SETTINGS_POSITIONS);
		assert_true(strlen(role_get((enum role)role)->meaning) > 10);
	}
	assert_int_equal(words_find(&words_role, "mould"), -1);
}

static void
every_machine_has_what_it_is_told_by(void **state)
{
	(void)state;
	for (int i = 0; i < MACHINE_COUNT; i++) {
		const struct machine_traits *machine = machine_get((enum machine)i);

		assert_true(strlen(words_machine.list[i]) > 0);
		assert_true(machine->ovens >= 1);
		assert_true(machine->ovens + 2 <= SETTINGS_STATIONS);
		assert_true(machine->sides >= 1 && machine->sides <= SETTINGS_SIDES);
		assert_false(machine->moves & machine->foreign);
		assert_false(machine->returns & machine->foreign);
		for (int need = 0; need < MACHINE_NEEDS; need++) {
			assert_true(machine->needs[need] != 0);
			assert_false(machine->needs[need] & ~machine->moves);
		}
	}
}

static void
a_role_that_a_machine_has_not_leads_to_one_that_it_has(void **state)
{
	(void)state;
	for (int i = 0; i < MACHINE_COUNT; i++)
		for (int role = 0; role < ROLE_COUNT; role++) {
			uint32_t foreign = machine_get((enum machine)i)->foreign;
			enum role instead;

			if (!(foreign & MACHINE_ROLE(role)))
				continue;
			instead = machine_role_instead((enum role)role);
			assert_false(foreign & MACHINE_ROLE(instead));
			assert_true(strlen(role_get(instead)->meaning) > 10);
		}
}

/* Modbus Application Protocol V1.1b3, sections 6.1 to 6.4. */
static void
each_table_has_its_function(void **state)
{
	(void)state;
	assert_int_equal(register_function(TABLE_COIL), 1);
	assert_int_equal(register_function(TABLE_DISCRETE), 2);
	assert_int_equal(register_function(TABLE_HOLDING), 3);
	assert_int_equal(register_function(TABLE_INPUT), 4);
	assert_true(register_is_bit(TABLE_COIL) && register_is_bit(TABLE_DISCRETE));
	assert_false(register_is_bit(TABLE_HOLDING) || register_is_bit(TABLE_INPUT));
}

static void
a_value_takes_the_registers_of_its_bits(void **state)
{
	(void)state;
	for (int i = ENCODING_BIT; i <= ENCODING_FLOAT32; i++) {
		bool wide = strstr(words_encoding.list[i], "32") != NULL;

		assert_int_equal(register_width((enum encoding)i), wide ? 2 : 1);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_feature_is_found_by_its_name_alone),
	    cmocka_unit_test(the_name_of_a_feature_ends_in_its_unit),
	    cmocka_unit_test(the_unit_on_file_is_that_of_the_name),
	    cmocka_unit_test(a_near_feature_is_found),
	    cmocka_unit_test(every_setting_can_be_told_to_a_person),
	    cmocka_unit_test(every_role_has_a_word_and_a_meaning),
	    cmocka_unit_test(every_machine_has_what_it_is_told_by),
	    cmocka_unit_test(a_role_that_a_machine_has_not_leads_to_one_that_it_has),
	    cmocka_unit_test(each_table_has_its_function),
	    cmocka_unit_test(a_value_takes_the_registers_of_its_bits),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
