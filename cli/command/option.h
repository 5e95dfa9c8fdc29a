/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The options of all commands, in one table, and how they are read from the command
 * line: --name VALUE, --name=VALUE, -h, -- to end them; anywhere among the arguments.
 */
#ifndef CLI_COMMAND_OPTION_H
#define CLI_COMMAND_OPTION_H

#include <stdbool.h>

enum option_id {
	OPTION_CONFIG,
	OPTION_LEDGER,
	OPTION_FORMAT,
	OPTION_COLOR,
	OPTION_HELP,
	OPTION_VERSION,
	OPTION_LINE,
	OPTION_SHIFT,
	OPTION_DATE,
	OPTION_FROM,
	OPTION_TO,
	OPTION_SINCE,
	OPTION_LAST,
	OPTION_OUTCOME,
	OPTION_SHOT,
	OPTION_DRY_RUN,
	OPTION_TRACE,
	OPTION_SET_UP,
	OPTION_THICKNESS,
	OPTION_STACK,
	OPTION_DEVICE,
	OPTION_FOR,
	OPTION_ONCE,
	OPTION_CLOCK_RATE,
	OPTION_CLOCK_START,
	OPTION_CLOCK_ORIGIN,
	/* the inside of a sheet */
	OPTION_THICKNESS_MM,
	OPTION_MATERIAL,
	OPTION_DIFFUSIVITY,
	OPTION_START_C,
	OPTION_TRANSFER_S,
	OPTION_AIR_C,
	OPTION_AT,
	OPTION_DEPTH,
	OPTION_LONGER,
	/* calibrations, reference runs */
	OPTION_AS_FOUND,
	OPTION_AS_LEFT,
	OPTION_TRUE,
	OPTION_DUE,
	OPTION_BY,
	OPTION_REFERENCE,
	OPTION_FINDINGS,
	OPTION_RECIPE,
	OPTION_TOOL,
	OPTION_SIDE,
	OPTION_NOTE,
	/* a device that is read by a command */
	OPTION_ADDRESS,
	OPTION_PORT,
	OPTION_BAUD,
	OPTION_PARITY,
	OPTION_STOP_BITS,
	OPTION_UNIT,
	OPTION_TABLE,
	OPTION_FIRST,
	OPTION_HOW_MANY,
	OPTION_DOCUMENT,
	OPTION_MAX_REGISTERS,
	OPTION_TIMEOUT_MS,
	OPTION_GAP_MS,
	OPTION_EXPECT,
	OPTION_AGAIN,
	OPTION_LIVE,
	OPTION_DROP_IN,
	/* central stores */
	OPTION_STORE,
	OPTION_REFUSED,
	OPTION_VERIFY,
	/* a copy of the ledger */
	OPTION_FORCE,
	OPTION_SALVAGE,
	/* capability of any column */
	OPTION_COLUMN,
	OPTION_LOWER,
	OPTION_UPPER,
	OPTION_TARGET,
	OPTION_ZERO_BOUNDED,
	OPTION_REQUIRED,
	OPTION_SUBGROUP,
	OPTION_METHOD,
	OPTION_CENTRE,
	OPTION_SIGMA,
	OPTION_RULES,
	OPTION_EWMA,
	OPTION_CUSUM,
	OPTION_DECIMAL_COMMA,
	OPTION_GAUGE,
	/* pages */
	OPTION_PICTURE,
	/* one run against another, suspect shots */
	OPTION_CHARACTERISTIC,
	OPTION_MARGIN,
	OPTION_LOT,
	OPTION_UNSTABLE,
	OPTION_COUNT
};

/* What a value is one of, where that can be known before it is typed. */
enum option_values {
	VALUES_ANY, /* of no list */
	VALUES_FILES,
	VALUES_FORMATS, /* those of the command */
	VALUES_COLOURS,
	VALUES_OUTCOMES,
	VALUES_PARITIES,
	VALUES_TABLES,
	VALUES_METHODS,
	VALUES_RULES,
	VALUES_FEATURES,
	/* names of the set-up's sections */
	VALUES_LINES,
	VALUES_SHIFTS,
	VALUES_STORES,
	VALUES_DEVICES,
	VALUES_CHANNELS,
	VALUES_RECIPES,
	VALUES_TOOLS,
	VALUES_MATERIALS,
	/* names in the ledger */
	VALUES_REFERENCES,
	VALUES_LOTS,
	VALUES_COUNT
};

struct option_traits {
	const char *name;  /* without the dashes */
	const char *value; /* "FILE"; NULL: a switch */
	const char *help;
	bool measure; /* the value is a number with its unit: in one word or in two */
	enum option_values values;
};

extern const struct option_traits option_table[OPTION_COUNT];

/* A set of options: a bit each. */
__extension__ typedef unsigned __int128 option_set;

#define OPTION_BIT(id) ((option_set)1 << (id))
#define OPTION_ALL (~(option_set)0)
_Static_assert(OPTION_COUNT <= 128, "a set of options has 128 bits");

/* What every command takes. */
#define OPTIONS_COMMON                                             \
	(OPTION_BIT(OPTION_CONFIG) | OPTION_BIT(OPTION_LEDGER) |   \
	    OPTION_BIT(OPTION_FORMAT) | OPTION_BIT(OPTION_COLOR) | \
	    OPTION_BIT(OPTION_HELP) | OPTION_BIT(OPTION_VERSION))

/*
 * Reads argv[*at] (which begins with a dash) as an option, with its value if it takes
 * one, and moves `*at` past both.  Returns its id and sets `*value` ("" for a switch;
 * `unit` NULL unless that is a word of its own); ERROR_INVALID with the sentence when
 * there is none of that name among the set `allowed`, or its value is missing: another option of
 * the set is none (--name=VALUE takes anything).
 * `--from NAME`, which is no time since it begins with no digit, is `--store NAME` where
 * that is allowed.
 */
struct error;
struct option_value {
	const char *text, *unit; /* text NULL: not given */
};
int option_read(int argc, char *const argv[], int *at, option_set allowed,
    struct option_value *value, struct error *error);

#endif
