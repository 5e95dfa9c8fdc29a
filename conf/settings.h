/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The configuration as plain structs.
 *
 * settings_load reads an INI file, reports every mistake in it at once, and
 * returns either all of it valid or nothing.  The result is never changed
 * afterwards; any thread may read it.  Everything is SI and C inside.
 * Loading is for one thread at a time (inih has globals).
 */
#ifndef CONF_SETTINGS_H
#define CONF_SETTINGS_H

#include "conf/feature.h"
#include "conf/settings_bus.h"
#include "daemon/base/calendar.h"
#include "daemon/base/clock.h"
#include "daemon/base/unit.h"

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;

/* How the sheets of a line move. */
enum machine {
	MACHINE_ROTARY,  /* a ring of frames, one a station, that move on together */
	MACHINE_SHUTTLE, /* each frame goes into the oven and out again by itself */
	MACHINE_SINGLE,  /* the sheet stays clamped, the oven comes to it and goes */
	MACHINE_COUNT
};

enum station_kind {
	STATION_LOAD,
	STATION_OVEN,
	STATION_FORM,
	STATION_UNLOAD,
	STATION_KIND_COUNT
};

struct station_settings {
	char name[SETTINGS_NAME]; /* its kind's word, or that, '-' and a label */
	enum station_kind kind;
};

/* What a channel is to the line. */
enum role {
	/* bits */
	ROLE_ROTATING,       /* 1 while the carriers move on */
	ROLE_FORM_CLOSED,    /* platens closed on the sheet */
	ROLE_OVEN_IN,        /* not of a ring: the sheet is in the oven */
	ROLE_CLAMP_CLOSED,   /* not of a ring: the frame's clamp holds a sheet */
	ROLE_SHEET_IN_FRAME, /* not of a ring: a sheet is in the frame, wherever it is */
	ROLE_SAG_EYE,        /* the sheet has sagged to the eye */
	ROLE_SHEET_AT_LOAD, /* of a ring: the frame at the load station holds a sheet */
	ROLE_SHEET_AT_FORM, /* of a ring: the frame at the form station holds a sheet */
	ROLE_AUTOMATIC,     /* 0: in manual */
	ROLE_FAULT,         /* the machine reports a fault */
	/* words */
	ROLE_CYCLE_COUNT,
	ROLE_RECIPE,
	/* measures; `position` counts from 1 within a role, an oven and a side (what is
	 * common to both sides counts on either); surfaces, zones, tools and returns
	 * without a gap */
	ROLE_SURFACE_TOP,
	ROLE_SURFACE_BOTTOM,
	ROLE_ZONE_TOP, /* output, ratio 0 to 1 */
	ROLE_ZONE_BOTTOM,
	ROLE_OVEN_AIR, /* of a convection oven */
	ROLE_TOOL,
	ROLE_WATER_SUPPLY, /* position 0: common to all circuits */
	ROLE_WATER_RETURN, /* position = circuit */
	ROLE_WATER_FLOW,   /* position = circuit */
	ROLE_ENERGY_METER, /* a counter of energy */
	ROLE_STACK,        /* sheet before loading */
	ROLE_AMBIENT,
	ROLE_SET_POINT, /* of anything: read as a heat begins, hashed */
	ROLE_OTHER,     /* logged, used by no feature */
	ROLE_COUNT
};

enum encoding {
	ENCODING_BIT, /* a coil or discrete input, or bit `bit` of a register */
	ENCODING_INT16,
	ENCODING_UINT16,
	ENCODING_INT32,
	ENCODING_UINT32,
	ENCODING_FLOAT32,
};

enum word_order { /* bytes of the value, A the most significant, as they come on the wire */
	WORD_ORDER_ABCD,
	WORD_ORDER_BADC,
	WORD_ORDER_CDAB,
	WORD_ORDER_DCBA,
};

struct channel_settings {
	char name[SETTINGS_NAME]; /* within its device: "zone_top_3" */
	uint32_t device;
	enum role role;
	int position; /* 1, 2, ...; 0 where the role has no positions */
	int oven; /* surfaces and zones: which of the line's ovens, from 0; else 0 */
	int side; /* index in the line's sides; -1: common to all of them */
	enum register_table table;
	uint16_t address; /* 0-based, as on the wire */
	enum encoding encoding;
	enum word_order order;
	int bit;       /* 0 (least significant) to 15; -1: a coil or discrete input */
	bool inverted; /* of a bit */
	/* A bit role that is read as a number: on once it has reached on_si, off once it
	 * has gone back to off_si; between them it stays.  NAN: a bit proper. */
	double on_si, off_si;
	double scale, offset; /* unit value = raw * scale + offset */
	enum unit unit;
	enum dimension dimension;
	double min_si,
	    max_si; /* outside: out_of_range; -INFINITY, INFINITY: unchecked */
	int sentinel_count;
	int64_t sentinels[SETTINGS_SENTINELS]; /* the registers' bits as an unsigned
	    number, 16 or 32 of them (these in the order of the value, not of the wire) */
	double rated_w;        /* of a zone: power at output 1; 0: not told */
	double debounce_s;     /* of a bit */
	double period_s;       /* it is read once in this time: its group's */
	bool at_heat;          /* and as a heat begins on its line */
	double frozen_after_s; /* raw bits that stay for longer, while another channel
	    like it (conf/alike.h) changes, are a fault; 0: unchecked */
	int32_t fault_channel; /* a bit, in settings->channels and of the same group:
	    while it is 1 this one has no value; -1: none */
};

/* How the pyrometers of a line see the sheets. */
enum pyrometer_view {
	VIEW_OVEN, /* in the oven, all of the heat */
	VIEW_EXIT, /* only as a sheet leaves it */
};

struct line_settings {
	char name[SETTINGS_NAME];
	enum machine machine;
	int station_count; /* load, ovens next to each other, form, and perhaps unload */
	struct station_settings stations[SETTINGS_STATIONS];
	int oven_count;                            /* among them */
	int side_count;                            /* 1 or 2 */
	char sides[SETTINGS_SIDES][SETTINGS_NAME]; /* "" when there is but one */
	double heat_min_s;      /* a shorter stay in the oven is no heating */
	double heat_max_s;      /* the machine's timer: a stay this long without sag */
	double form_limit_s;    /* platens must close within this after the index */
	double form_min_s;      /* platens closed for less than this form nothing */
	int startup_shots;      /* shots left out after a stop */
	double startup_after_s; /* a pause between indexes this long is a stop */
	double rate_from_s,
	    rate_to_s;       /* window of the heating rate, after heat start */
	double coverage_min; /* ratio of good time under which a feature is absent */
	/* What the computed inside of the sheet rests on.  Tolerances are half of a 95 %
	 * interval. */
	enum pyrometer_view view; /* how the pyrometers see the sheet */
	double pyrometer_lag_s;   /* their damping: readings are late by this */
	double pyrometer_lag_tolerance_s, pyrometer_tolerance_dc;
	double pyrometer_gain_tolerance; /* ratio of the rise above the start */
	double start_tolerance_dc;       /* of the sheet as it goes in */
	double start_c;                  /* of the stack where no sensor tells; NAN */
	double transfer_w_m2k;           /* convection on the way to the form */
	double transfer_tolerance;       /* ratio of it */
	double ambient_tolerance_dc;     /* of what it loses its heat to there */
	double oven_air_w_m2k; /* of a convection oven, with oven_air; NAN: none */
	double oven_exchange_tolerance; /* ratio of it */
	double oven_air_tolerance_dc;   /* of the oven's air where the sheet is */
	double coolant_heat_ratio, coolant_viscosity_ratio; /* against water's: 1 */
	/* Derived: the positions of the last oven, and of any side the most. */
	int surfaces_top, surfaces_bottom, zones_top, zones_bottom, tools, circuits;
};

/* What a cold sheet can be, wherever that is said: of a recipe, a line, a lot. */
#define SHEET_LEAST_MM 0.2
#define SHEET_MOST_MM 50.0
#define SHEET_COLDEST_C (-20.0)
#define SHEET_WARMEST_C 100.0

struct recipe_settings {
	int number;
	char name[SETTINGS_NAME];
	char material[SETTINGS_NAME];         /* "" when none is named */
	double heat_max_s;                    /* NAN: the line's */
	double thickness_m;                   /* of its sheets; NAN: not told */
	double thickness_tolerance;           /* ratio; half of a 95 % interval */
	double sheet_length_m, sheet_width_m; /* that the form cools; NAN: not told */
	double demould_c; /* the part's mean as it is taken off; NAN: the material's */
};

struct tool_settings {
	char name[SETTINGS_NAME];
	char part[SETTINGS_NAME];
	double bore_m; /* of its water circuits; NAN: not told */
};

enum { MATERIAL_POINTS = 8 };

enum material_structure {
	STRUCTURE_AMORPHOUS,
	STRUCTURE_SEMICRYSTALLINE, /* it melts: conduction in enthalpy form */
};

/* A property over temperature: linear between its points, level beyond them.  One
 * point: constant; none: not told. */
struct material_curve {
	int count;
	double at_c[MATERIAL_POINTS]; /* ascending */
	double value[MATERIAL_POINTS];
};

/* A set of properties of a sheet material.  Without density, heat capacity and
 * conductivity (all three or none) nothing is computed with it. */
struct material_settings {
	char name[SETTINGS_NAME];
	char version[SETTINGS_NAME]; /* as its keeper calls this set of figures */
	char hash[9]; /* of the figures that something is computed from: not of the
	                 name, the version and the forming window */
	enum material_structure structure;
	double density;                      /* kg/m3 at 23 C; NAN: not told */
	struct material_curve heat_capacity; /* J/(kg K), without the melting */
	struct material_curve conductivity;  /* W/(m K) */
	/* Of a semicrystalline one: the melting is a bell around melting_c with the
	 * standard deviation melting_width_dc. */
	double fusion_j_kg, melting_c, melting_width_dc;
	double emissivity;              /* of its surface, 8 to 14 um */
	double diffusivity_tolerance;   /* ratio; half of a 95 % interval */
	double fusion_tolerance;        /* ratio, the same; of one that melts */
	double form_low_c, form_high_c; /* forming window of the core; NAN: not told */
	double limit_c;                 /* it degrades above this; NAN: not told */
	double demould_c;               /* part's mean as it is taken off; NAN */
	bool replaces; /* one of the same name in the materials' file, unused then */
};

struct calendar_dates {
	int count;
	struct calendar_date list[SETTINGS_DATES];
};

/* Several of one name are one shift, with other hours on other days. */
struct shift_settings {
	char name[SETTINGS_NAME];
	int start_minute,
	    end_minute; /* local, after midnight; end <= start: over midnight */
	unsigned days;  /* bit 0 Monday ... bit 6 Sunday, of the day it starts */
	struct calendar_dates dates; /* in place of days; none: count 0 */
};

struct limit_settings {
	int feature;
	int recipe;                /* -1: any */
	char tool[SETTINGS_NAME];  /* "": any */
	double lower_si, upper_si; /* NAN: none on that side; never both NAN */
	double target_si;          /* the value aimed at; NAN: none */
};

enum store_kind {
	STORE_INFLUXDB1, /* /write */
	STORE_INFLUXDB2, /* /api/v2/write */
	STORE_INFLUXDB3, /* /api/v3/write_lp */
	STORE_VICTORIAMETRICS,
	STORE_KIND_COUNT
};

struct store_settings {
	char name[SETTINGS_NAME];
	enum store_kind kind;
	char url[SETTINGS_PATH];          /* "http://127.0.0.1:8086"; lines go there */
	char query_url[SETTINGS_PATH];    /* "": url; where shots are read back from */
	char database[SETTINGS_NAME];     /* the bucket of an influxdb2; of a
	                                  victoriametrics a label, or "" */
	char organization[SETTINGS_NAME]; /* of an influxdb2; else "" */
	/* At most one of password_file (with user), token_file and credential. */
	char user[SETTINGS_NAME];          /* "": none */
	char password_file[SETTINGS_PATH]; /* read for each post, mode checked */
	char token_file[SETTINGS_PATH];    /* the same */
	char credential[SETTINGS_NAME];    /* of systemd's: the user's password, or
	                                      without a user a token */
	char ca_file[SETTINGS_PATH];       /* of https; "": the system's */
	bool verify;                       /* the certificate */
	double timeout_s;
	int batch_lines;
	double
	    settle_s; /* after an answer, until what it took is on the store's disk */
	double reading_period_s; /* of the live readings; 0: none are sent */
	double reading_keep_s;   /* they wait for so long */
};

enum { EVENT_KIND_COUNT = 30 }; /* words_event */

/* A program of the plant's that is run when something happened. */
struct notify_settings {
	char program[SETTINGS_PATH]; /* absolute; "": none */
	uint32_t on;                 /* kinds of event: a bit a place in words_event */
	double timeout_s;            /* it may run for so long */
};

struct settings {
	char path[SETTINGS_PATH]; /* where it was read from */
	char site[SETTINGS_NAME];
	char zone[SETTINGS_NAME];       /* "Europe/Berlin" */
	struct calendar_dates holidays; /* no shift starts but by its own dates */
	enum unit temperature;          /* C or F: how temperatures are shown */
	char ledger[SETTINGS_PATH];     /* "": none, as there are no lines */
	int memory_shots; /* finished shots kept while the ledger cannot be written */
	int keep_traces_days;               /* 0: none are kept */
	int keep_channels_days;             /* of shots; 0: for ever */
	int keep_shots_days;                /* 0: for ever */
	char materials_path[SETTINGS_PATH]; /* of the materials read too; "": none */

	struct line_settings *lines;
	size_t line_count; /* 0: of a PC that only reads a store */
	struct device_settings *devices;
	size_t device_count;
	struct bus_settings *buses; /* in the order of their first devices */
	size_t bus_count;
	size_t idle_bus_count; /* behind them: serial lines of no device */
	struct channel_settings
	    *channels; /* those of a device stand together, among them
	    those of a group */
	size_t channel_count;
	struct recipe_settings *recipes;
	size_t recipe_count;
	struct tool_settings *tools;
	size_t tool_count;
	struct material_settings *materials;
	size_t material_count;
	struct shift_settings *shifts;
	size_t shift_count;
	struct limit_settings *limits;
	size_t limit_count;
	struct store_settings *stores;
	size_t store_count;
	struct notify_settings notify;

	char *text; /* the whole source, the materials' file included, for the ledger */
	char hash[17];
};

/* One mistake: "file:line: sentence"; "file: sentence" and line 0 when the file as
 * a whole cannot be used.  Each file's stand together, the configuration's first. */
struct problem {
	int file; /* 0: the configuration, 1: the materials that it names */
	int line;
	char text[1024];
};

struct problems {
	size_t count; /* all that were found, also beyond the array */
	struct problem list[SETTINGS_PROBLEMS];
};

/*
 * Reads and checks `path`, and the file of materials that it names, and looks which of
 * the serial ports that are there now is another's under a second name.  Returns the
 * settings (free with settings_free), or NULL with every mistake in `problems`, in the
 * order of their lines.
 */
struct settings *settings_load(const char *path, struct problems *problems);

/* The same from the `text` of settings that were read once, which needs no other file
 * (conf/bundle.h) and no ports; `path` is for the messages. */
struct settings *settings_parse(
    const char *text, const char *path, struct problems *problems);

/* The path of its ledger, whatever mistakes the rest has; false: it says none. */
bool settings_load_ledger(const char *path, char ledger[static SETTINGS_PATH]);

/* A file of [material NAME] sections alone: settings with `path` and the materials, all
 * else empty, temperatures in C. */
struct settings *settings_load_materials(const char *path, struct problems *problems);

void settings_free(struct settings *settings);

/* NULL, or -1, when there is none. */
int settings_find_line(const struct settings *settings, const char *name);
const struct recipe_settings *settings_recipe(
    const struct settings *settings, int number);

/* NULL when there is none. */
const struct material_settings *settings_material(
    const struct settings *settings, const char *name);
const struct tool_settings *settings_tool(
    const struct settings *settings, const char *name);

/* How many features of a family (exit_top_1_c, exit_top_2_c, ...) a line has, and the
 * first of them.  One without a family, such as heat_s, is the first of one. */
int settings_line_family(const struct line_settings *line, int feature, int *first);

/* The limits for a feature of shots with this recipe and tool: the most particular
 * entry (recipe and tool, then recipe, then tool, then any); NULL when none. */
const struct limit_settings *settings_limit(
    const struct settings *settings, int feature, int recipe, const char *tool);

/*
 * Whether the daemon can go over from `a` to `b` with its pollers and the sheets
 * in flight left alone: site, lines, devices and channels are the same.
 */
bool settings_same_machine(const struct settings *a, const struct settings *b);

const char *role_text(enum role role);

#endif
