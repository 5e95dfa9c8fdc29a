/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is told of sound settings that the inside of a sheet, or the balance of its heat,
 * cannot be computed with. */
#include "conf/notes.h"

#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include <cmocka.h>

#include "tests/unit/conf/parsed.h"

enum { TOLD = 4096 };

#define CHANNEL(name, role, address, unit)                                           \
	"[channel plc." name "]\nrole = " role "\ntable = input\naddress = " address \
	"\ntype = int16\nunit = " unit "\n"
#define SURFACE CHANNEL("top", "surface_top", "0", "C")
#define STACK CHANNEL("stack", "stack", "1", "C")
#define SUPPLY CHANNEL("supply", "water_supply", "2", "C")
#define RETURN CHANNEL("return", "water_return", "3", "C")
#define FLOW CHANNEL("flow", "water_flow", "4", "L/min")
#define METER CHANNEL("meter", "energy_meter", "5", "kWh")
#define ZONE CHANNEL("zone", "zone_top", "6", "%")
#define FIGURES                                             \
	"structure = amorphous\ndensity_kg_per_m3 = 1050\n" \
	"heat_capacity_j_per_kgk = 2050\nconductivity_w_per_mk = 0.18\n"

/* One recipe, one tool, and the channels that sheets are followed by. */
static const char base[] = "[site]\nname = works\ntimezone = UTC\n"
			   "[ledger]\npath = ledger.db\n"
			   "[line a]\nmachine = single-station\n"
			   "stations = load, oven, form\nheat_timer_s = 230\n"
			   "[device plc]\nline = a\naddress = 127.0.0.1:1502\n"
			   "[channel plc.in]\nrole = oven_in\ntable = discrete\n"
			   "address = 0\ntype = bit\n"
			   "[channel plc.closed]\nrole = form_closed\n"
			   "table = discrete\naddress = 1\ntype = bit\n"
			   "[channel plc.clamp]\nrole = clamp_closed\n"
			   "table = discrete\naddress = 2\ntype = bit\n"
			   "[channel plc.recipe]\nrole = recipe\ntable = holding\n"
			   "address = 3\ntype = uint16\n"
			   "[shift day]\nstart = 06:00\nend = 06:00\n"
			   "[store s]\nurl = http://127.0.0.1:8086\ndatabase = d\n";

static void
take(void *arg, const char *sentence)
{
	char *told = arg;
	size_t length = strlen(told);

	snprintf(told + length, TOLD - length, "%s\n", sentence);
}

/* The notes on the plant with more at its end. */
static void
expect(const char *more, const char *told)
{
	char text[TOLD], all[TOLD] = "";
	struct settings *settings;

	snprintf(text, sizeof text, "%s%s", base, more);
	settings = parsed(text);
	notes_tell(settings, take, all);
	assert_string_equal(all, told);
	settings_free(settings);
}

#define ABSENT "core_heat_end_c and what comes of it are absent"
#define NO_START                                                                  \
	"line a has no channel of role stack and no 'start_temperature': " ABSENT \
	", unless it is entered with the lot\n"
#define NO_RECIPE                                                         \
	"there is no [recipe] that tells thickness and material: " ABSENT \
	", unless they are entered with the lot\n"
#define RECIPE(no) \
	"recipe 12 has no " no ": " ABSENT ", unless they are entered with the lot\n"

static void
what_a_core_lacks_is_told_where_there_are_pyrometers(void **state)
{
	(void)state;
	expect("", "");
	expect("[recipe 12]\n", "");
	expect(SURFACE, NO_START NO_RECIPE);
	expect(SURFACE STACK, NO_RECIPE);
	expect(SURFACE STACK "[recipe 12]\n", RECIPE("'thickness' and no 'material'"));
	expect(SURFACE STACK "[recipe 12]\nthickness = 6 mm\n", RECIPE("'material'"));
	expect(SURFACE STACK
	    "[recipe 12]\nthickness = 6 mm\nmaterial = abs\n[material abs]\n",
	    RECIPE("figures of its material abs"));
	expect(SURFACE STACK "[recipe 12]\nmaterial = abs\n[material abs]\n" FIGURES,
	    RECIPE("'thickness'"));
	expect(SURFACE STACK
	    "[recipe 12]\nthickness = 6 mm\nmaterial = abs\n[material abs]\n" FIGURES,
	    "");
}

#define ODD(setting, value, range)                                           \
	"material abs: '" setting "' is " value ", and plastics have " range \
	": the core comes out wrong if a digit slipped\n"

/* The ranges are common practice, no source. */
static void
figures_that_no_plastic_has_are_told(void **state)
{
	(void)state;
	expect("[material abs]\nstructure = amorphous\ndensity_kg_per_m3 = 1050\n"
	       "heat_capacity_j_per_kgk = 2050\nconductivity_w_per_mk = 0.018\n",
	    ODD("conductivity_w_per_mk", "0.018", "0.08 to 0.8 W/(m K)"));
	expect("[material abs]\nstructure = amorphous\ndensity_kg_per_m3 = 105\n"
	       "heat_capacity_j_per_kgk = 23: 1300, 100: 590\n"
	       "conductivity_w_per_mk = 23: 0.2, 100: 1.8, 200: 2\n",
	    ODD("density_kg_per_m3", "105", "800 to 2500 kg/m3")
		ODD("heat_capacity_j_per_kgk", "590", "700 to 30000 J/(kg K)")
		    ODD("conductivity_w_per_mk", "1.8", "0.08 to 0.8 W/(m K)"));
	/* the bounds themselves; no figures at all */
	expect("[material abs]\nstructure = amorphous\ndensity_kg_per_m3 = 2500\n"
	       "heat_capacity_j_per_kgk = 700\nconductivity_w_per_mk = 0.8\n",
	    "");
	expect("[material abs]\n", "");
}

#define RECIPE_12 \
	"[material abs]\n" FIGURES "[recipe 12]\nthickness = 6 mm\nmaterial = abs\n"
#define SHEET "sheet_length = 1800 mm\nsheet_width = 1200 mm\n"

static void
a_start_temperature_stands_for_a_stack_sensor(void **state)
{
	char *text = text_with(base, "heat_timer_s = 230\n",
	    "heat_timer_s = 230\nstart_temperature = 20 C\n");
	char *more = text_with(text, "[shift day]", SURFACE RECIPE_12 "[shift day]");
	struct settings *settings = parsed(more);
	char all[TOLD] = "";

	(void)state;
	notes_tell(settings, take, all);
	assert_string_equal(all, "");
	settings_free(settings);
	free(more);
	free(text);
}

#define NO_WATER(role)                                                                \
	"line a has no channel of role " role ": heat_removed_kwh, heat_balance and " \
	"water_resistance_1_k_per_kw ... are absent\n"
#define WATER SURFACE STACK SUPPLY RETURN FLOW

static void
what_the_balance_lacks_is_told_where_there_is_water(void **state)
{
	(void)state;
	expect(RETURN, NO_WATER("water_flow or water_supply"));
	expect(RETURN FLOW, NO_WATER("water_supply"));
	expect(RETURN SUPPLY, NO_WATER("water_flow"));
	expect(RETURN SUPPLY FLOW, "");
	expect(WATER RECIPE_12,
	    "recipe 12 has no 'sheet_length' and 'sheet_width' and no 'demould', its "
	    "own or its material's: heat_brought_kwh and heat_balance are absent\n");
	expect(WATER RECIPE_12 SHEET,
	    "recipe 12 has no 'demould', its own or its material's: heat_brought_kwh "
	    "and heat_balance are absent\n");
	expect(WATER RECIPE_12 "demould = 80 C\n",
	    "recipe 12 has no 'sheet_length' and 'sheet_width': heat_brought_kwh and "
	    "heat_balance are absent\n");
	expect(WATER RECIPE_12 SHEET "demould = 80 C\n", "");
}

static void
a_bore_and_rated_zones_that_are_missing_are_told(void **state)
{
	(void)state;
	expect("[tool T-1]\n", "");
	expect(RETURN SUPPLY FLOW "[tool T-1]\n",
	    "tool T-1 has no 'water_bore': reynolds_1 ... are absent\n");
	expect(RETURN SUPPLY FLOW
	    "[tool T-1]\nwater_bore = 12.7 mm\n[tool T-2]\n[tool T-3]\n",
	    "tool T-2 and 1 more have no 'water_bore': reynolds_1 ... are absent\n");
	expect(METER,
	    "line a has an energy meter, but no zones with 'rated_kw': meter_ratio is "
	    "absent\n");
	expect(METER ZONE,
	    "line a has an energy meter, but no zones with 'rated_kw': meter_ratio is "
	    "absent\n");
	expect(METER ZONE "rated_kw = 3\n", "");
}

#define LIMIT(feature, unit) "[limits " feature "]\nupper = 5 " unit "\n"
#define JUDGE ": they judge nothing\n"

static void
limits_that_nothing_can_be_judged_by_are_told(void **state)
{
	(void)state;
	expect(LIMIT("core_form_start_c", "C") LIMIT("above_limit_s", "s")
		   LIMIT("meter_ratio", "%") LIMIT("heat_balance", "%"),
	    "limits meter_ratio: no line has a channel of role energy_meter" JUDGE
	    "limits core_form_start_c: no line has a channel of role surface_top "
	    "or surface_bottom or oven_air" JUDGE
	    "limits above_limit_s: no line has a channel of role surface_top "
	    "or surface_bottom or oven_air" JUDGE
	    "limits heat_balance: no line has a channel of role water_return" JUDGE);
	expect(SURFACE STACK LIMIT("core_form_start_c", "C")
		   LIMIT("above_limit_s", "s"),
	    NO_RECIPE "limits core_form_start_c: no recipe has 'thickness' and a "
		      "'material' with figures" JUDGE
		      "limits above_limit_s: no recipe has a 'material' with "
		      "'degrades_above'" JUDGE);
	expect(WATER RECIPE_12 SHEET LIMIT("heat_brought_kwh", "kWh")
		   LIMIT("core_heat_end_c", "C") LIMIT("reynolds_1", ""),
	    "recipe 12 has no 'demould', its own or its material's: heat_brought_kwh "
	    "and heat_balance are absent\n"
	    "limits heat_brought_kwh: no recipe has 'sheet_length', 'sheet_width' and "
	    "'demould'" JUDGE "limits reynolds_1: no tool has 'water_bore'" JUDGE);
	expect(RETURN LIMIT("heat_removed_1_kwh", "kWh"),
	    NO_WATER("water_flow or water_supply") "limits heat_removed_1_kwh: no line "
						   "has a channel of role "
						   "water_flow" JUDGE);
}

static void
a_material_that_is_not_used_is_told(void **state)
{
	char text[TOLD];
	struct settings *settings;
	char all[TOLD] = "";

	(void)state;
	snprintf(text, sizeof text, "%s[material abs]\n%s\n[material abs]\n", base,
	    "; ===== materials read along: 'materials' of [site] =====");
	char *named =
	    text_with(text, "name = works\n", "name = works\nmaterials = m.ini\n");
	settings = parsed(named);
	notes_tell(settings, take, all);
	assert_string_equal(all, "material abs is that of the configuration: the one "
				 "in 'm.ini' is not used\n");
	settings_free(settings);
	free(named);
}

#define FIGURES_OF(density)                                        \
	"structure = amorphous\ndensity_kg_per_m3 = " density "\n" \
	"heat_capacity_j_per_kgk = 2050\nconductivity_w_per_mk = 0.18\n"
#define MELTS_PERHAPS(name, why)                                               \
	"material " name " is amorphous, but " why                             \
	": if it melts (PE, PP, TPO, PA), write structure = semicrystalline, " \
	"or its core is wrong by tens of degrees\n"
#define BY_NAME "its name is that of one that melts"
#define BY_DENSITY "so light are those that melt, or foams"

static void
an_amorphous_one_that_seems_to_melt_is_told(void **state)
{
	(void)state;
	expect("[material HDPE-black]\n" FIGURES_OF("1050"),
	    MELTS_PERHAPS("HDPE-black", BY_NAME));
	expect("[material north-pp20]\n" FIGURES_OF("1050"),
	    MELTS_PERHAPS("north-pp20", BY_NAME));
	expect(
	    "[material grey]\n" FIGURES_OF("950"), MELTS_PERHAPS("grey", BY_DENSITY));
	/* Petg and apple are words of their own. */
	expect("[material petg]\n" FIGURES_OF("1270"), "");
	expect("[material apple]\n" FIGURES_OF("1050"), "");
	/* Nothing is computed with it. */
	expect("[material pp]\n", "");
	/* It is told that it melts. */
	expect("[material pp]\nstructure = semicrystalline\ndensity_kg_per_m3 = 905\n"
	       "heat_capacity_j_per_kgk = 2050\nconductivity_w_per_mk = 0.2\n"
	       "fusion_kj_per_kg = 90\nmelting = 163 C\nmelting_width = 7 C\n",
	    "");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(what_a_core_lacks_is_told_where_there_are_pyrometers),
	    cmocka_unit_test(figures_that_no_plastic_has_are_told),
	    cmocka_unit_test(a_start_temperature_stands_for_a_stack_sensor),
	    cmocka_unit_test(what_the_balance_lacks_is_told_where_there_is_water),
	    cmocka_unit_test(a_bore_and_rated_zones_that_are_missing_are_told),
	    cmocka_unit_test(limits_that_nothing_can_be_judged_by_are_told),
	    cmocka_unit_test(a_material_that_is_not_used_is_told),
	    cmocka_unit_test(an_amorphous_one_that_seems_to_melt_is_told),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
