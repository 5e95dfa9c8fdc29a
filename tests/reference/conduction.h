/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Conduction through a plate with constant properties: solutions in series from H. S.
 * Carslaw and J. C. Jaeger, "Conduction of Heat in Solids", 2nd edition, Oxford 1959,
 * chapter III (the plate; both faces stepped, ramped or heated by a flux; exchange at
 * the faces), summed to nine decimals; where a form for short times exists too, both
 * agree.  tests/unit/daemon/heat/series.h sums them once more.
 *
 * L is half of the thickness, Fo = diffusivity * time / L^2, X the distance from the
 * midplane over L.
 */
#ifndef TESTS_REFERENCE_CONDUCTION_H
#define TESTS_REFERENCE_CONDUCTION_H

enum conduction_case {
	CASE_STEP,      /* (Ts - T)/(Ts - T0), both faces stepped to Ts; at X */
	CASE_STEP_MEAN, /* the same of the mean over the thickness */
	CASE_ZETA,      /* the first root of z tan z = Bi */
	CASE_C1,        /* 4 sin z/(2 z + sin 2 z) */
	CASE_EXCHANGE,  /* (Ta - T)/(Ta - T0), Bi at both faces; at X */
	CASE_RAMP,      /* (Ts - T)/(q L^2/diffusivity), both faces T0 + q t; at X */
	CASE_FLUX,      /* (T - T0)/(q" L/k), the flux q" into both faces; at X */
	CASE_TWO_SIDED, /* the face x = 0 stepped to 1, the other kept at 0; at x/(2 L) */
	CASE_APPROACH, /* both faces 1 - exp(-b Fo), from 0; at X */
};

struct conduction_value {
	enum conduction_case kind;
	double parameter; /* Bi or b */
	double fo, place;
	double value;
};

/* clang-format off */
static const struct conduction_value conduction_values[] = {
	{CASE_STEP, 0, 0.05, 0, 0.996869195},
	{CASE_STEP_MEAN, 0, 0.05, 0, 0.747686748},
	{CASE_STEP, 0, 0.05, 0.5, 0.886151601},
	{CASE_STEP, 0, 0.1, 0, 0.949305363},
	{CASE_STEP_MEAN, 0, 0.1, 0, 0.643176600},
	{CASE_STEP, 0, 0.1, 0.5, 0.735651315},
	{CASE_STEP, 0, 0.2, 0, 0.772311607},
	{CASE_STEP_MEAN, 0, 0.2, 0, 0.495912180},
	{CASE_STEP, 0, 0.2, 0.5, 0.553175892},
	{CASE_STEP, 0, 0.3, 0, 0.606803817},
	{CASE_STEP_MEAN, 0, 0.3, 0, 0.386763929},
	{CASE_STEP, 0, 0.3, 0.5, 0.429842525},
	{CASE_STEP, 0, 0.5, 0, 0.370777430},
	{CASE_STEP_MEAN, 0, 0.5, 0, 0.236049669},
	{CASE_STEP, 0, 0.5, 0.5, 0.262188276},
	{CASE_STEP, 0, 0.75, 0, 0.200090308},
	{CASE_STEP_MEAN, 0, 0.75, 0, 0.127381467},
	{CASE_STEP, 0, 0.75, 0.5, 0.141485249},
	{CASE_STEP, 0, 1, 0, 0.107977044},
	{CASE_STEP_MEAN, 0, 1, 0, 0.068740322},
	{CASE_STEP, 0, 1, 0.5, 0.076351300},
	{CASE_STEP, 0, 1.5, 0, 0.031444312},
	{CASE_STEP_MEAN, 0, 1.5, 0, 0.020018071},
	{CASE_STEP, 0, 1.5, 0.5, 0.022234486},
	{CASE_STEP, 0, 2, 0, 0.009156990},
	{CASE_STEP_MEAN, 0, 2, 0, 0.005829521},
	{CASE_STEP, 0, 2, 0.5, 0.006474970},
	{CASE_STEP, 0, 3, 0, 0.000776558},
	{CASE_STEP_MEAN, 0, 3, 0, 0.000494372},
	{CASE_STEP, 0, 3, 0.5, 0.000549110},
	{CASE_ZETA, 0.01, 0, 0, 0.099833639},
	{CASE_C1, 0.01, 0, 0, 1.001660844},
	{CASE_ZETA, 0.02, 0, 0, 0.140951676},
	{CASE_C1, 0.02, 0, 0, 1.003310086},
	{CASE_ZETA, 0.05, 0, 0, 0.221760394},
	{CASE_C1, 0.05, 0, 0, 1.008188854},
	{CASE_ZETA, 0.1, 0, 0, 0.311052848},
	{CASE_C1, 0.1, 0, 0, 1.016094217},
	{CASE_ZETA, 0.2, 0, 0, 0.432840720},
	{CASE_C1, 0.2, 0, 0, 1.031087650},
	{CASE_ZETA, 0.3, 0, 0, 0.521791176},
	{CASE_C1, 0.3, 0, 0, 1.045047056},
	{CASE_ZETA, 0.5, 0, 0, 0.653271187},
	{CASE_C1, 0.5, 0, 0, 1.070128137},
	{CASE_ZETA, 1, 0, 0, 0.860333589},
	{CASE_C1, 1, 0, 0, 1.119132008},
	{CASE_ZETA, 2, 0, 0, 1.076873986},
	{CASE_C1, 2, 0, 0, 1.178455787},
	{CASE_ZETA, 5, 0, 0, 1.313837716},
	{CASE_C1, 5, 0, 0, 1.240249309},
	{CASE_ZETA, 10, 0, 0, 1.428870011},
	{CASE_C1, 10, 0, 0, 1.261962589},
	{CASE_ZETA, 20, 0, 0, 1.496128952},
	{CASE_C1, 20, 0, 0, 1.269916016},
	{CASE_ZETA, 50, 0, 0, 1.540005942},
	{CASE_C1, 50, 0, 0, 1.272651810},
	{CASE_ZETA, 100, 0, 0, 1.555245129},
	{CASE_C1, 100, 0, 0, 1.273087620},
	{CASE_EXCHANGE, 0.1, 1, 0, 0.922388572},
	{CASE_EXCHANGE, 0.1, 1, 1, 0.878126488},
	{CASE_EXCHANGE, 0.5, 0.5, 0, 0.864114129},
	{CASE_EXCHANGE, 0.5, 0.5, 1, 0.686881982},
	{CASE_EXCHANGE, 1, 0.5, 0, 0.772526383},
	{CASE_EXCHANGE, 1, 0.5, 1, 0.504521928},
	{CASE_EXCHANGE, 1, 1, 0, 0.533859401},
	{CASE_EXCHANGE, 1, 1, 1, 0.348176852},
	{CASE_EXCHANGE, 5, 0.3, 0, 0.736327521},
	{CASE_EXCHANGE, 5, 0.3, 1, 0.189434877},
	{CASE_EXCHANGE, 10, 0.2, 0, 0.829254731},
	{CASE_EXCHANGE, 10, 0.2, 1, 0.122482238},
	{CASE_RAMP, 0, 0.05, 0, 0.049978131},
	{CASE_RAMP, 0, 0.05, 0.5, 0.048149129},
	{CASE_RAMP, 0, 0.1, 0, 0.098873183},
	{CASE_RAMP, 0, 0.1, 0.5, 0.088439135},
	{CASE_RAMP, 0, 0.2, 0, 0.185193159},
	{CASE_RAMP, 0, 0.2, 0.5, 0.152079568},
	{CASE_RAMP, 0, 0.3, 0, 0.253876183},
	{CASE_RAMP, 0, 0.3, 0.5, 0.200929621},
	{CASE_RAMP, 0, 0.5, 0, 0.349727265},
	{CASE_RAMP, 0, 0.5, 0.5, 0.268740723},
	{CASE_RAMP, 0, 1, 0, 0.456238552},
	{CASE_RAMP, 0, 1, 0.5, 0.344055983},
	{CASE_RAMP, 0, 1.5, 0, 0.487256100},
	{CASE_RAMP, 0, 1.5, 0.5, 0.365988702},
	{CASE_RAMP, 0, 2, 0, 0.496288812},
	{CASE_RAMP, 0, 2, 0.5, 0.372375794},
	{CASE_FLUX, 0, 0.05, 0, 0.000269342},
	{CASE_FLUX, 0, 0.05, 1, 0.252313252},
	{CASE_FLUX, 0, 0.1, 0, 0.007885293},
	{CASE_FLUX, 0, 0.1, 1, 0.356826246},
	{CASE_FLUX, 0, 0.2, 0, 0.061463751},
	{CASE_FLUX, 0, 0.2, 1, 0.505165189},
	{CASE_FLUX, 0, 0.5, 0, 0.334790713},
	{CASE_FLUX, 0, 0.5, 1, 0.831875953},
	{CASE_FLUX, 0, 1, 0, 0.833343815},
	{CASE_FLUX, 0, 1, 1, 1.333322852},
	{CASE_FLUX, 0, 2, 0, 1.833333334},
	{CASE_FLUX, 0, 2, 1, 2.333333333},
	{CASE_TWO_SIDED, 0, 0.1, 0.25, 0.263552477},
	{CASE_TWO_SIDED, 0, 0.1, 0.5, 0.025347319},
	{CASE_TWO_SIDED, 0, 0.1, 0.75, 0.000796207},
	{CASE_TWO_SIDED, 0, 0.2, 0.25, 0.429195269},
	{CASE_TWO_SIDED, 0, 0.2, 0.5, 0.113844197},
	{CASE_TWO_SIDED, 0, 0.2, 0.75, 0.017628839},
	{CASE_TWO_SIDED, 0, 0.5, 0.25, 0.616616615},
	{CASE_TWO_SIDED, 0, 0.5, 0.5, 0.314611285},
	{CASE_TWO_SIDED, 0, 0.5, 0.75, 0.121195110},
	{CASE_TWO_SIDED, 0, 1, 0.25, 0.711807886},
	{CASE_TWO_SIDED, 0, 1, 0.5, 0.446011478},
	{CASE_TWO_SIDED, 0, 1, 0.75, 0.211840814},
	{CASE_TWO_SIDED, 0, 2, 0.25, 0.746762514},
	{CASE_TWO_SIDED, 0, 2, 0.5, 0.495421505},
	{CASE_TWO_SIDED, 0, 2, 0.75, 0.246762516},
	{CASE_APPROACH, 1, 0.5, 0, 0.130103842},
	{CASE_APPROACH, 1, 1, 0, 0.392706813},
	{CASE_APPROACH, 1, 2, 0, 0.755759608},
	{CASE_APPROACH, 3, 1, 0, 0.701882152},
	{CASE_APPROACH, 3, 2, 0, 0.963859402},
};

/* Insulated from T = Ts - D (1 - X^2): (T - Ts + D)/D at the core and at the faces. */
static const struct {
	double fo, core, face;
} conduction_insulated[] = {
	{0.05, 0.099461, 0.595373}, {0.1, 0.184229, 0.486348},
	{0.2, 0.277072, 0.389670}, {0.4, 0.325513, 0.341154},
};

/* A melting plate: 6 mm, 950 kg/m3; heat capacity 1850 J/(kg K) at 23 C, linear to 2500 at
 * 131 C and level, and 190 kJ/kg of fusion in a bell around 131 C of standard deviation 6 K;
 * conductivity 0.46 W/(m K) at 23 C, linear to 0.25 at 131 C and level; both faces
 * 23 + 172 (1 - exp(-t/60 s)).  Computed once by the method of lines with SciPy's BDF,
 * 201, 401 and 801 nodes in half of the thickness agreeing to 0.001 K: a computation of
 * this project's, no published source.  Beside it what constant properties (0.35 W/(m K),
 * 1900 or 2500 J/(kg K)) give, to 0.1 K: wrong. */
static const struct {
	double s, core_c, wrong_1900_c, wrong_2500_c;
} conduction_melting[] = {
	{60, 93.213, 99.8, 89.9}, {100, 119.806, 144.4, 136.6},
	{140, 127.477, 168.8, 164.1}, {180, 145.410, 181.5, 178.9},
	{220, 175.140, 188.1, 186.7}, {260, 186.373, 191.4, 190.7},
};

/* Its enthalpy above 23 C, J/kg. */
static const struct {
	double c, j_kg;
} conduction_melting_enthalpy[] = {
	{100, 160290}, {120, 214110}, {131, 329900},
	{140, 434710}, {160, 497400}, {180, 547400},
};
/* clang-format on */

#endif
