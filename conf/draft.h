/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A configuration between its text and the settings: one part a section, values
 * read and each sound for itself; what they mean together is checked on parts.
 * For one thread; only within conf/.
 */
#ifndef CONF_DRAFT_H
#define CONF_DRAFT_H

#include "conf/mistakes.h"
#include "conf/reader.h"
#include "conf/schema.h"
#include "conf/settings.h"

struct channel_draft {
	char device[SETTINGS_NAME], station[SETTINGS_NAME], side[SETTINGS_NAME];
	/* Of the first of `count`; order and what ends in _si come with channel_make. */
	struct channel_settings out;
	int count;
	int address;
	int order;               /* -1: not told */
	double minimum, maximum; /* in the channel's unit; NAN: not told */
	double on_at, off_at;    /* the same */
	const char *sentinels;   /* NULL: none; lent by the document */
	char fault_bit[SETTINGS_NAME];
	const struct part *fault; /* the section that makes that bit; NULL: none */
	int fault_index;          /* of one of a row; -1: the row, or no row */
};

struct device_draft {
	struct device_settings out;
	struct bus_settings tcp; /* as its address says */
	char line[SETTINGS_NAME], bus_name[SETTINGS_NAME];
	const struct part *bus; /* NULL: on an address */
};

struct limits_draft {
	struct limit_settings out;
	const char *lower, *upper, *target; /* NULL: none; lent by the document */
};

struct site_draft {
	char name[SETTINGS_NAME], zone[SETTINGS_NAME];
	char materials[SETTINGS_PATH];
	struct calendar_dates holidays;
	int temperature;
};

struct ledger_draft {
	char path[SETTINGS_PATH];
	int memory_shots, keep_traces_days, keep_channels_days, keep_shots_days;
};

struct part {
	struct section *source;
	enum section_kind kind;
	bool along; /* from the file of materials */
	bool bad; /* a mistake within it is noted: what it would do is not looked at */
	struct part
	    *parent;    /* of a channel its device, of a device its line, or NULL */
	uint32_t index; /* of a line or device, in the settings */
	union {
		struct site_draft site;
		struct ledger_draft ledger;
		struct store_settings store;
		struct line_settings line;
		struct bus_settings bus;
		struct device_draft device;
		struct channel_draft channel;
		struct recipe_settings recipe;
		struct material_settings material;
		struct tool_settings tool;
		struct shift_settings shift;
		struct limits_draft limits;
		struct notify_settings notify;
	} as;
};

struct draft {
	struct mistakes mistakes;       /* of the configuration */
	struct mistakes along;          /* of the materials that it names */
	char along_path[SETTINGS_PATH]; /* what along.path points to */
	struct document document, materials;
	bool from_file;         /* what it names may be looked at on the disk */
	bool materials_missing; /* some are not known: none is missed */
	struct part *parts;     /* in the order of the file */
	size_t part_count;
};

/* Reads `text`; false when nothing can be made of it, with a mistake noted.
 * draft_release either way. */
bool draft_read(struct draft *draft, const char *text);
void draft_release(struct draft *draft);

/* Adds the parts of the file of materials, before any part points to another. */
bool draft_read_along(struct draft *draft, const char *text);

/* The next part of that kind after `after` (NULL: the first), or NULL. */
struct part *draft_next(
    const struct draft *draft, enum section_kind kind, const struct part *after);

/* The part of that kind with that name in its section line, or NULL. */
struct part *draft_find(
    const struct draft *draft, enum section_kind kind, const char *name);

/* "; did you mean 'NAME'?" after the names that parts of that kind have, or "". */
enum { DRAFT_HINT = 96 };
void draft_hint(const struct draft *draft, enum section_kind kind, const char *wrong,
    char hint[static DRAFT_HINT]);

/* Whether the setting was written; whether its value (or its default) may be used. */
bool part_has(const struct part *part, const char *setting);
bool part_sound(const struct part *part, const char *setting);

/* Those of the file that the part is from. */
struct mistakes *part_mistakes(struct draft *draft, const struct part *part);

/* Notes a mistake at the line of `setting`, or at the section's when it is NULL or
 * not written; the part and the setting are bad from then on. */
void part_refuse(struct draft *draft, struct part *part, const char *setting,
    const char *format, ...) __attribute__((format(printf, 4, 5)));

/* Puts the folder of the configuration before a path that does not begin with '/'. */
void part_complete_path(struct draft *draft, struct part *part, const char *setting,
    char path[static SETTINGS_PATH]);

/* Refuses `upper` unless its value is above that of `lower`; NAN: not told. */
void part_check_order(struct draft *draft, struct part *part, const char *lower,
    double lower_value, const char *upper, double upper_value);

#endif
