/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Mistakes in what the inside of a sheet is computed from, and exactly what is said. */
#include "tests/unit/conf/refusal.h"

/* A material that is sound, and one that melts. */
#define FIGURES                                                      \
	"density_kg_per_m3 = 1050\nheat_capacity_j_per_kgk = 2050\n" \
	"conductivity_w_per_mk = 0.18\n"
#define ABS "[material abs]\nstructure = amorphous\n" FIGURES

static void
values_that_cannot_be_are_refused(void **state)
{
	CHECK({"material = abs", "material = abs\nthickness = 6.35",
		  "x.ini:39: 'thickness' is '6.35': the unit is missing, write 6.35 mm "
		  "or 6.35 in\n"},
	    {"material = abs", "material = abs\nthickness = 6.35 cm",
		"x.ini:39: 'thickness' is '6.35 cm': 'cm' cannot measure that, write a "
		"number in mm or in\n"},
	    {"material = abs", "material = abs\nthickness = 0.1 mm",
		"x.ini:39: 'thickness' is '0.1 mm': write 0.2 mm to 50 mm\n"},
	    {"material = abs", "material = abs\nthickness = 2 in",
		"x.ini:39: 'thickness' is '2 in': write 0.2 mm to 50 mm\n"},
	    {"material = abs", "material = abs\ndemould = 360 K",
		"x.ini:39: 'demould' is '360 K': a temperature is in C or F, not in "
		"K\n"},
	    {"material = abs", "material = abs\ndemould = 600 F",
		"x.ini:39: 'demould' is '600 F': write -20 C to 300 C\n"},
	    {"part = basin", "part = basin\nwater_bore = wide",
		"x.ini:41: 'water_bore' is 'wide': write a number and mm or in\n"},
	    {"heat_timer_s = 230", "heat_timer_s = 230\npyrometer_tolerance = 2",
		"x.ini:11: 'pyrometer_tolerance' is '2': the unit is missing, write 2 "
		"C, 2 F or 2 K\n"},
	    {"heat_timer_s = 230", "heat_timer_s = 230\npyrometers = inside",
		"x.ini:11: 'pyrometers' is 'inside': write oven or exit\n"},
	    {"heat_timer_s = 230", "heat_timer_s = 230\ncoolant_viscosity_ratio = 0",
		"x.ini:11: 'coolant_viscosity_ratio' is '0': write a number from 0.2 "
		"to 20\n"},
	    {"material = abs", "material = ABS",
		"x.ini:38: 'material' is 'ABS', but there is no [material ABS]; did "
		"you mean 'abs'?\n"},
	    {"[material abs]", "[material abs]\nemissivity = 1.2",
		"x.ini:37: 'emissivity' is '1.2': write a number from 0.1 to 1\n"},
	    {"[material abs]", "[material abs]\nstructure = crystalline",
		"x.ini:37: 'structure' is 'crystalline': write amorphous or "
		"semicrystalline\n"});
}

#define CURVE(text, said)                                                           \
	{                                                                           \
		"[material abs]",                                                   \
		    "[material abs]\nstructure = amorphous\n"                       \
		    "density_kg_per_m3 = 1050\nconductivity_w_per_mk = 0.18\n"      \
		    "heat_capacity_j_per_kgk = " text,                              \
		    "x.ini:40: 'heat_capacity_j_per_kgk' is '" text "': " said "\n" \
	}

static void
curves_that_are_none_are_refused(void **state)
{
	CHECK(CURVE("much", "write a number in J/(kg K), or points 'degrees C: number' "
			    "with commas between"),
	    CURVE("nan", "write a number in J/(kg K), or points 'degrees C: number' "
			 "with commas between"),
	    CURVE("-1300", "-1300 cannot be, write 300 to 10000 J/(kg K)"),
	    CURVE("1.3", "1.3 cannot be, write 300 to 10000 J/(kg K)"),
	    CURVE("23: 1300, 105: 1.7", "1.7 cannot be, write 300 to 10000 J/(kg K)"),
	    CURVE("23: 1300, 1700",
		"'1700' has no temperature, write each point as 23: 1700"),
	    CURVE("105: 1700, 23: 1300",
		"the temperatures must go up, but 23 C stands behind 105 C"),
	    CURVE("23: 1300, 1e9: 2100",
		"a point at 1e+09 C cannot be, write -50 to 500 C"),
	    CURVE("23: 1300, 23: 1700",
		"the temperatures must go up, but 23 C stands behind 23 C"),
	    CURVE("23 K: 1300", "a temperature is in C or F, not in K"),
	    CURVE("23: 1300,", "a point is missing: write one, or leave the ',' out"),
	    CURVE("1: 1300, 2: 1300, 3: 1300, 4: 1300, 5: 1300, 6: 1300, 7: 1300, 8: "
		  "1300, 9: 1300",
		"write 8 points at most"));
}

static void
part_of_the_figures_is_refused(void **state)
{
	CHECK({"[material abs]",
		  "[material abs]\nstructure = amorphous\ndensity_kg_per_m3 = 1050",
		  "x.ini:36: 'heat_capacity_j_per_kgk' is missing in [material abs], "
		  "where 'density_kg_per_m3' stands: the inside of a sheet is computed "
		  "from density, heat capacity and conductivity together, write all of "
		  "them or none\n"},
	    {"[material abs]",
		"[material abs]\nstructure = amorphous\nheat_capacity_j_per_kgk = "
		"1300\n"
		"conductivity_w_per_mk = 0.18",
		"x.ini:36: 'density_kg_per_m3' is missing in [material abs], where "
		"'heat_capacity_j_per_kgk' stands: the inside of a sheet is computed "
		"from density, heat capacity and conductivity together, write all of "
		"them or none\n"},
	    {"[material abs]\n", "[material abs]\n" FIGURES,
		"x.ini:36: 'structure' is missing in [material abs]: write amorphous, "
		"or semicrystalline for one that melts (PE, PP, TPO, PA), which is "
		"computed otherwise\n"});
}

#define NO_MELTING(what)                                                          \
	"'" what "' is missing in [material abs], which is semicrystalline: "     \
	"without the heat that melting takes its core would be wrong by tens of " \
	"degrees while it melts, write fusion_kj_per_kg, melting and "            \
	"melting_width\n"

static void
melting_goes_with_what_melts(void **state)
{
	CHECK({"[material abs]\n",
		  "[material abs]\nstructure = semicrystalline\n" FIGURES,
		  "x.ini:37: " NO_MELTING("fusion_kj_per_kg")},
	    {"[material abs]\n",
		"[material abs]\nstructure = semicrystalline\n" FIGURES
		"fusion_kj_per_kg = 190\nmelting = 130 C\n",
		"x.ini:37: " NO_MELTING("melting_width")},
	    {"[material abs]\n", ABS "melting = 130 C\n",
		"x.ini:41: 'melting' is of a material that melts: write structure = "
		"semicrystalline, or leave it out\n"});
}

static void
temperatures_of_a_material_stand_in_their_order(void **state)
{
	CHECK({"[material abs]", "[material abs]\nform_from = 180 C\nform_to = 127 C",
		  "x.ini:38: 'form_to' must be above 'form_from', which is '180 C': "
		  "exchange or mend them\n"},
	    {"[material abs]", "[material abs]\nform_from = 127 C\ndemould = 270 F",
		"x.ini:37: 'form_from' must be above 'demould', which is '270 F': "
		"exchange or mend them\n"},
	    {"[material abs]",
		"[material abs]\nform_to = 180 C\ndegrades_above = 350 F",
		"x.ini:38: 'degrades_above' must be above 'form_to', which is '180 C': "
		"exchange or mend them\n"});
}

#define AIR                                                                       \
	"[channel plc.air]\nrole = oven_air\ntable = input\naddress = 0\ntype = " \
	"int16\nunit = C\n"

static void
a_line_tells_how_its_sheets_are_seen_and_heated(void **state)
{
	CHECK(
	    {"heat_timer_s = 230", "heat_timer_s = 230\npyrometers = exit",
		"x.ini:11: 'pyrometers' is 'exit', but [line a] has no channel of role "
		"surface_top or surface_bottom: write their channels, or leave it "
		"out\n"},
	    {"heat_timer_s = 230", "heat_timer_s = 230\noven_air_w_per_m2k = 25",
		"x.ini:11: 'oven_air_w_per_m2k' is of a convection oven, but [line a] "
		"has no channel of role oven_air: write that, or leave it out\n"},
	    {"[material abs]", AIR "[material abs]",
		"x.ini:7: 'oven_air_w_per_m2k' is missing in [line a], which has "
		"[channel plc.air]: write how much heat goes from that air to the "
		"sheet, or let the channel be of role other\n"},
	    /* where a role is not understood, nobody knows what there is */
	    {"heat_timer_s = 230\n[device plc]\nline = a\naddress = 127.0.0.1:1502\n"
	     "holes = holding 14-19\n[channel plc.rotating]\nrole = rotating\n",
		"heat_timer_s = 230\npyrometers = exit\n[device plc]\nline = a\n"
		"address = 127.0.0.1:1502\nholes = holding 14-19\n"
		"[channel plc.rotating]\nrole = surface\n",
		"x.ini:17: 'role' is 'surface': did you mean 'surface_top'?\n"},
	    {"material = abs", "material = abs\nsheet_width = 1200 mm",
		"x.ini:39: 'sheet_width' stands without 'sheet_length': write both or "
		"neither\n"});
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(values_that_cannot_be_are_refused),
	    cmocka_unit_test(curves_that_are_none_are_refused),
	    cmocka_unit_test(part_of_the_figures_is_refused),
	    cmocka_unit_test(melting_goes_with_what_melts),
	    cmocka_unit_test(temperatures_of_a_material_stand_in_their_order),
	    cmocka_unit_test(a_line_tells_how_its_sheets_are_seen_and_heated),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
