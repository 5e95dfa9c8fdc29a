/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A line played by linesim's machine, without heat: what its bits and measures show now,
 * and what truly happened to each sheet.
 *
 * Each sheet is marked: while it is in an oven the surfaces there read a temperature that
 * is its own, and so does the tool while the platens are closed on it.  Nothing else ever
 * reads that.  This header knows nothing of linesim's headers nor of the daemon's, which
 * share names.  One object belongs to one thread.
 */
#ifndef TESTS_SCENARIO_LINE_H
#define TESTS_SCENARIO_LINE_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

enum { LINE_SIDES = 2, LINE_OVENS = 2, LINE_STAYS = 8 };

/* Bits of the controller; [side] where there is one a side. */
enum line_bit {
	LINE_ROTATING,
	LINE_SHEET_AT_LOAD,
	LINE_SHEET_AT_FORM,
	LINE_AUTOMATIC,
	LINE_FAULT,
	LINE_SAG_EYE,
	LINE_FORM_CLOSED,
	LINE_OVEN_IN = LINE_FORM_CLOSED + LINE_SIDES,
	LINE_CLAMP_CLOSED = LINE_OVEN_IN + LINE_SIDES,
	LINE_SHEET_IN_FRAME = LINE_CLAMP_CLOSED + LINE_SIDES,
	LINE_BITS = LINE_SHEET_IN_FRAME + LINE_SIDES
};

struct line_view {
	bool bit[LINE_BITS];
	uint32_t toggles[LINE_BITS]; /* since the start */
	uint16_t cycle_count;
	double surface_c[LINE_OVENS], zone[LINE_OVENS], tool_c[LINE_SIDES];
};

/* What can be odd: of the machine, and of the bus and the logger. */
enum oddity {
	ODDITY_EMPTY,
	ODDITY_SCRAP,
	ODDITY_ABORT,
	ODDITY_REHEAT,
	ODDITY_EYE_STUCK,
	ODDITY_EYE_BOUNCING,
	ODDITY_EYE_DEAD,
	ODDITY_DOUBLE_INDEX,
	ODDITY_FAULT,
	ODDITY_JOG,
	ODDITY_COUNTER,
	ODDITY_STOP,
	ODDITY_LOT,
	ODDITY_OF_LINE, /* the ones above */
	ODDITY_SILENT_BITS = ODDITY_OF_LINE,
	ODDITY_SILENT_MEASURES,
	ODDITY_MISSED_POLLS,
	ODDITY_LATE,
	ODDITY_CLOCK,
	ODDITY_POWER_UP,
	ODDITY_RESTART,
	ODDITY_COUNT
};
const char *oddity_name(enum oddity oddity);

/* NAN: never. */
struct line_stay {
	int oven;
	double in_s, out_s;
};

struct line_sheet {
	int64_t number; /* from 1; frames of the very start have 0 and are not told */
	int side;
	const char *outcome; /* of the machine's: "complete", "empty", ... */
	int stay_count;
	struct line_stay stays[LINE_STAYS];
	int64_t before; /* who was in this frame before it; 0: nobody */
	double begun_s, loaded_s, sag_s, form_start_s, form_end_s, form_before_s,
	    left_s;
	double final_s; /* an unformed sheet has been taken off; else as left_s */
	uint32_t odd;   /* 1 << enum oddity, of this sheet alone */
};

/* From when to when something odd that not one sheet alone may feel; a fault or a jog
 * begins with the order. */
struct hazard {
	enum oddity oddity;
	double from_s, to_s;
};

struct line;

/* The settings of a line, its start in the logger's words. */
struct line_rules {
	double heat_min_s, timer_s, startup_after_s;
	double index_s; /* a ring turns so long; 0: it is none */
	int startup_shots;
	int ovens, sides;
	bool ring;
};

/* `kind` as linesim names it.  odds: how many of a hundred sheets get something odd. */
struct line *line_new(const char *kind, uint64_t seed, int odds);
void line_free(struct line *line);
const struct line_rules *line_rules(const struct line *line);

/* Steps on to `now_s`. */
void line_run(struct line *line, double now_s);
const struct line_view *line_view(struct line *line);
double line_now_s(const struct line *line);

/* Sheets that have left, in this order; lent until the next line_run. */
const struct line_sheet *line_sheets(const struct line *line, size_t *count);
/* When frames went into the first oven, again and again. */
const double *line_entries(const struct line *line, size_t *count);
int64_t line_youngest(const struct line *line); /* the last number given */
const struct hazard *line_hazards(const struct line *line, size_t *count);

/* The marks of a sheet, and back: 0 when it is the mark of none. */
double line_surface_mark_c(int64_t number, bool empty);
int64_t line_sheet_of_surface(double surface_c);
double line_tool_mark_c(int64_t number);
int64_t line_sheet_of_tool(double tool_c);

#endif
