/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Where the values come from that the tests are held against, by full name and by the kind of
 * evidence that it is: `make validation` writes them by kind, in this order of kinds.
 */
#ifndef TESTS_REFERENCE_SOURCES_H
#define TESTS_REFERENCE_SOURCES_H

enum evidence {
	EVIDENCE_PUBLISHED, /* printed, certified or defined there, or a formula of it */
	EVIDENCE_PROGRAM,  /* computed by a program that shares no code with this one */
	EVIDENCE_PLANT,    /* by a simulated plant of this project */
	EVIDENCE_PRACTICE, /* common practice, no source */
	EVIDENCE_MEMORY,   /* published, but written down from memory */
};

enum source_id {
	SOURCE_STRD_UNIVARIATE,
	SOURCE_STRD_VARIANCE,
	SOURCE_HANDBOOK_AUTOCORRELATION,
	SOURCE_HANDBOOK_CAPABILITY,
	SOURCE_HANDBOOK_INDIVIDUALS,
	SOURCE_HANDBOOK_CUSUM,
	SOURCE_HANDBOOK_EWMA,
	SOURCE_BISSELL,
	SOURCE_FISHER,
	SOURCE_HARTER,
	SOURCE_CARSLAW_KIRCHHOFF,
	SOURCE_CARSLAW_PLATE,
	SOURCE_CARSLAW_MELTING,
	SOURCE_CRANK_NICOLSON,
	SOURCE_CODATA,
	SOURCE_GUM,
	SOURCE_KELL,
	SOURCE_SP811,
	SOURCE_MODBUS,
	SOURCE_MODBUS_SERIAL,
	SOURCE_IEEE_754,
	SOURCE_RFC_3629,
	SOURCE_FNV,
	SOURCE_XOSHIRO,
	SOURCE_SPLITMIX,
	SOURCE_R,
	SOURCE_SCIPY,
	SOURCE_NUMPY,
	SOURCE_MPMATH,
	SOURCE_RANGES,
	SOURCE_MELTING_LINES,
	SOURCE_PLANT,
	SOURCE_PLANT_DRAWN,
	SOURCE_PRACTICE_FLOW,
	SOURCE_PRACTICE_TURN_ROUND,
	SOURCE_MEMORY_STEPHENS,
	SOURCE_MEMORY_ROSNER,
	SOURCE_MEMORY_MONTGOMERY,
	SOURCE_MEMORY_CHAMP,
	SOURCE_MEMORY_WATER,
	SOURCE_MEMORY_DIFFUSIVITY,
	SOURCE_MEMORY_LINE_PROTOCOL,
	SOURCE_COUNT
};

struct source_row {
	enum evidence evidence;
	const char *name;
};

#define HANDBOOK "NIST/SEMATECH e-Handbook of Statistical Methods, "
#define STRD "NIST Statistical Reference Datasets (StRD), certified values: "
#define CARSLAW                                                                   \
	"H. S. Carslaw and J. C. Jaeger, Conduction of Heat in Solids, 2nd ed., " \
	"Oxford 1959, "

static const struct source_row source_table[SOURCE_COUNT] = {
    [SOURCE_STRD_UNIVARIATE] = {EVIDENCE_PUBLISHED,
	STRD "Univariate Summary Statistics"},
    [SOURCE_STRD_VARIANCE] = {EVIDENCE_PUBLISHED, STRD "Analysis of Variance, SiRstv"},
    [SOURCE_HANDBOOK_AUTOCORRELATION] = {EVIDENCE_PUBLISHED,
	HANDBOOK "1.3.3.1, autocorrelation plot"},
    [SOURCE_HANDBOOK_CAPABILITY] = {EVIDENCE_PUBLISHED,
	HANDBOOK "6.1.6, process capability"},
    [SOURCE_HANDBOOK_INDIVIDUALS] = {EVIDENCE_PUBLISHED,
	HANDBOOK "6.3.2.2, individuals control charts"},
    [SOURCE_HANDBOOK_CUSUM] = {EVIDENCE_PUBLISHED,
	HANDBOOK "6.3.2.3, cumulative sum control charts"},
    [SOURCE_HANDBOOK_EWMA] = {EVIDENCE_PUBLISHED,
	HANDBOOK "6.3.2.4, EWMA control charts"},
    [SOURCE_BISSELL] = {EVIDENCE_PUBLISHED,
	"A. F. Bissell, How reliable is your capability index?, Applied Statistics "
	"39:331-340, 1990 (the formula, evaluated with SciPy 1.10)"},
    [SOURCE_FISHER] = {EVIDENCE_PUBLISHED,
	"R. A. Fisher's series of Student's t in the degrees of freedom, two terms"},
    [SOURCE_HARTER] = {EVIDENCE_PUBLISHED,
	"H. L. Harter, Order Statistics and their Use in Testing and Estimation, 1969"},
    [SOURCE_CARSLAW_KIRCHHOFF] = {EVIDENCE_PUBLISHED,
	CARSLAW "1.6, Kirchhoff's transform"},
    [SOURCE_CARSLAW_PLATE] = {EVIDENCE_PUBLISHED,
	CARSLAW "chapter III, the plate (its series, summed)"},
    [SOURCE_CARSLAW_MELTING] = {EVIDENCE_PUBLISHED,
	CARSLAW "11.2, a melting front (its equation, solved)"},
    [SOURCE_CRANK_NICOLSON] = {EVIDENCE_PUBLISHED,
	"J. Crank and P. Nicolson, Proceedings of the Cambridge Philosophical Society "
	"43:50-67, 1947 (the order of the scheme)"},
    [SOURCE_CODATA] = {EVIDENCE_PUBLISHED,
	"CODATA recommended values of the fundamental physical constants: 2018 "
	"(the constant of Stefan and Boltzmann)"},
    [SOURCE_GUM] = {EVIDENCE_PUBLISHED,
	"JCGM 100:2008, Guide to the expression of uncertainty in measurement, 5.1"},
    [SOURCE_KELL] = {EVIDENCE_PUBLISHED,
	"G. S. Kell, Journal of Chemical and Engineering Data 20:97-105, 1975"},
    [SOURCE_SP811] = {EVIDENCE_PUBLISHED, "NIST Special Publication 811 (2008), Guide "
					  "for the Use of the SI, appendix B.8"},
    [SOURCE_MODBUS] = {EVIDENCE_PUBLISHED,
	"MODBUS Application Protocol Specification V1.1b3, 6.1 to 6.4 and 7, in the "
	"frames "
	"of MODBUS Messaging on TCP/IP Implementation Guide V1.0b"},
    [SOURCE_MODBUS_SERIAL] = {EVIDENCE_PUBLISHED,
	"MODBUS over Serial Line Specification and Implementation Guide V1.02"},
    [SOURCE_IEEE_754] = {EVIDENCE_PUBLISHED, "IEEE 754, binary32"},
    [SOURCE_RFC_3629] = {EVIDENCE_PUBLISHED, "RFC 3629, UTF-8"},
    [SOURCE_FNV] = {EVIDENCE_PUBLISHED, "L. C. Noll's test vectors of FNV-1a, 64 bits "
					"(IETF draft-eastlake-fnv, appendix C)"},
    [SOURCE_XOSHIRO] = {EVIDENCE_PUBLISHED,
	"D. Blackman and S. Vigna, xoshiro256starstar.c: the reference implementation"},
    [SOURCE_SPLITMIX] = {EVIDENCE_PUBLISHED,
	"S. Vigna, splitmix64.c: the reference implementation"},
    [SOURCE_R] = {EVIDENCE_PROGRAM,
	"R 4.2, the R Foundation for Statistical Computing"},
    [SOURCE_SCIPY] = {EVIDENCE_PROGRAM, "SciPy 1.10"},
    [SOURCE_NUMPY] = {EVIDENCE_PROGRAM, "NumPy 1.24"},
    [SOURCE_MPMATH] = {EVIDENCE_PROGRAM, "mpmath 1.2.1, 30 digits"},
    [SOURCE_RANGES] = {EVIDENCE_PROGRAM, "Double integrals of the range of normal "
					 "values (R 4.2's ptukey agrees to 1e-7)"},
    [SOURCE_MELTING_LINES] = {EVIDENCE_PROGRAM,
	"A melting plate by the method of lines, SciPy 1.10's BDF, 201 to 801 nodes: a "
	"computation of this project's, no published source"},
    [SOURCE_PLANT] = {EVIDENCE_PLANT, "The simulated line of this project: conduction "
				      "by a scheme of its own, heaters, "
				      "pyrometers, tool and water"},
    [SOURCE_PLANT_DRAWN] = {EVIDENCE_PLANT,
	"Simulated lines drawn from the configured tolerances, 400 of them"},
    [SOURCE_PRACTICE_FLOW] = {EVIDENCE_PRACTICE,
	"Flow in a bore: laminar up to Reynolds 2300, surely turbulent from 4000"},
    [SOURCE_PRACTICE_TURN_ROUND] = {EVIDENCE_PRACTICE,
	"A serial device takes 20 ms to begin its answer"},
    [SOURCE_MEMORY_STEPHENS] = {EVIDENCE_MEMORY,
	"M. A. Stephens in R. B. D'Agostino and M. A. Stephens, Goodness-of-Fit "
	"Techniques, 1986, tables 4.7, 4.17 and 4.21"},
    [SOURCE_MEMORY_ROSNER] = {EVIDENCE_MEMORY,
	"B. Rosner's data in " HANDBOOK "1.3.5.17.3, generalized ESD test"},
    [SOURCE_MEMORY_MONTGOMERY] = {EVIDENCE_MEMORY,
	"D. C. Montgomery, Introduction to Statistical Quality Control: run lengths of "
	"cumulative sums"},
    [SOURCE_MEMORY_CHAMP] = {EVIDENCE_MEMORY,
	"C. W. Champ and W. H. Woodall, Technometrics 29:393-399, 1987: run lengths of "
	"charts with rules, to two decimals; further ones from a Markov chain"},
    [SOURCE_MEMORY_WATER] = {EVIDENCE_MEMORY,
	"Common tables of liquid water at one atmosphere (after the IAPWS "
	"formulations)"},
    [SOURCE_MEMORY_DIFFUSIVITY] = {EVIDENCE_MEMORY,
	"Ranges of diffusivity of sheet over its heating; no source at hand"},
    [SOURCE_MEMORY_LINE_PROTOCOL] = {EVIDENCE_MEMORY,
	"The rules of line protocol: what is escaped in a tag and in a string"},
};

#undef HANDBOOK
#undef STRD
#undef CARSLAW

#endif
