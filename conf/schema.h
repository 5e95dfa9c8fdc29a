/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The one table of every section and every setting: reading, checking, the nearest
 * name and the manual's list all come from it.  Constant data; any thread.
 */
#ifndef CONF_SCHEMA_H
#define CONF_SCHEMA_H

#include <stdbool.h>
#include <stddef.h>

struct words;

enum section_kind {
	SECTION_SITE,
	SECTION_LEDGER,
	SECTION_STORE,
	SECTION_LINE,
	SECTION_BUS,
	SECTION_DEVICE,
	SECTION_CHANNEL,
	SECTION_RECIPE,
	SECTION_MATERIAL,
	SECTION_TOOL,
	SECTION_SHIFT,
	SECTION_LIMITS,
	SECTION_NOTIFY,
	SECTION_COUNT
};

struct section_traits {
	const char *kind;     /* "device" */
	const char *argument; /* "NAME"; "" when the section has no name */
	bool required;        /* at least one must be there */
	const char *help;     /* one line */
};

enum setting_type {
	TYPE_NAME,    /* letters, digits, '-', '_', '.' */
	TYPE_TEXT,    /* free */
	TYPE_PATH,    /* relative to the configuration's folder */
	TYPE_URL,     /* http:// or https://HOST:PORT, a path perhaps */
	TYPE_ADDRESS, /* HOST:PORT */
	TYPE_INTEGER,
	TYPE_NUMBER,
	TYPE_WORD,        /* one of `words` */
	TYPE_FLAG,        /* yes or no */
	TYPE_MINUTE,      /* HH:MM */
	TYPE_DAYS,        /* mon-fri, sun */
	TYPE_DATES,       /* 2026-12-24, 2026-12-31 */
	TYPE_UNIT,        /* C, F, % ... */
	TYPE_ZONE,        /* Europe/Berlin */
	TYPE_MACHINE,     /* rotary, shuttle, single-station */
	TYPE_STATIONS,    /* load, oven, form */
	TYPE_SIDES,       /* left, right */
	TYPE_HOLES,       /* holding 14-19, input 6 */
	TYPE_RAW,         /* 0x7fff, -9999 */
	TYPE_MEASURE,     /* 2.0 F, of what only its section's name tells */
	TYPE_TEMPERATURE, /* 150 C, 300 F */
	TYPE_DIFFERENCE,  /* 2 C, 3.6 F: of temperatures, without the 32 */
	TYPE_LENGTH,      /* 6.35 mm, 0.25 in */
	TYPE_EVENTS,      /* device_silent, finding */
	TYPE_CURVE,       /* 1300, or 23: 1300, 105: 1700 over degrees C */
	TYPE_COUNT
};

struct setting {
	enum section_kind section;
	const char *name;
	enum setting_type type;
	const char *unit;     /* of a number and of its bounds; "" when it has none */
	double factor;        /* from that unit to the inside's SI */
	const char *fallback; /* when it is not written; "": nothing; NULL: required */
	double minimum,
	    maximum; /* of a number, in its unit; unchecked when equal; bytes
	                             of a text, at most: maximum */
	const struct words *words;
	size_t offset;    /* in struct part */
	const char *help; /* one line */
};

const struct section_traits *schema_section(enum section_kind kind);

/* Every setting, section by section. */
const struct setting *schema_settings(size_t *count);

/* NULL when the section has none of that name. */
const struct setting *schema_find(enum section_kind kind, const char *name);

/* "number", "HH:MM" ...: what a value of the type looks like. */
const char *schema_type_text(enum setting_type type);

#endif
