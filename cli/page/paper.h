/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A4 sheets that fill from the top: room is asked for, then words are put at the pen.
 * Headings, and a few fields and sentences after them, wait for what they stand over, so that
 * none is left alone at the foot of a sheet.  For the PDF of this folder alone; points, y downwards.
 */
#ifndef CLI_PAGE_PAPER_H
#define CLI_PAGE_PAPER_H

#include "cli/page/page.h"
#include "cli/picture/canvas.h"
#include "daemon/base/text.h"

#define PAPER_WIDTH 511.0 /* within the margins */
#define PAPER_HEIGHT 742.0
#define PAPER_LEADING 1.3 /* from one line to the next, in parts of the size */
#define PAPER_ASCENT \
	0.97           /* of the base line under a line's top, in parts of the size */
#define PAPER_SIZE 9.0 /* of letters of sentences */
#define PAPER_INK 0x1e2428
#define PAPER_FAINT 0x58626a
#define PAPER_RULE 0xb4bcc3

enum { PAPER_WAITING = 24 };

/* A heading, or a field or a sentence after one. */
struct paper_waiting {
	int level; /* 0: no heading */
	enum page_tone tone;
	size_t at;    /* of its NUL-terminated words; those of a field's value follow */
	double label; /* width of a field's name; 0: no field */
};

struct paper {
	FILE *out;
	struct canvas *canvas; /* NULL: not begun, or memory is short */
	double y;              /* the pen, from the upper margin */
	double gap;            /* before what comes next, unless that is at the top */
	struct text title;
	struct text line; /* room for one */
	struct text waiting_words;
	struct paper_waiting waiting[PAPER_WAITING];
	int waiting_count;
	bool failed;
};

void paper_init(struct paper *paper, FILE *out);

/* Puts what waits, writes all, releases; 0 or ERROR_MEMORY. */
int paper_end(struct paper *paper);

/* Of the whole; the first that is given holds. */
void paper_title(struct paper *paper, const char *title);

/* The first sheet, if there is none: then words can be measured.  Its title can be given no
 * more.  False when memory is short. */
bool paper_begin(struct paper *paper);

/* Level 1 is the highest. */
void paper_heading(struct paper *paper, int level, const char *heading);

/* Keeps so much free above what comes next. */
void paper_space(struct paper *paper, double points);

/*
 * Puts what waits and makes room for `height` under it, on the next sheet if need be; what is
 * higher than a sheet begins at its top.  False, and nothing can be put, when memory is short.
 */
bool paper_need(struct paper *paper, double height);

/* A new sheet even so. */
void paper_turn(struct paper *paper);

/* What is left of this sheet below what waits; only after paper_begin. */
double paper_left(struct paper *paper);

/* What a whole sheet has below what waits; only after paper_begin. */
double paper_most(struct paper *paper);

/* Where the pen is on the canvas, at the left margin. */
struct canvas_point paper_corner(const struct paper *paper);

/* Letters in a tone. */
struct canvas_letters paper_letters(double size, enum page_tone tone);

/* How wide words are; only after paper_begin. */
double paper_measure(
    struct paper *paper, const struct canvas_letters *letters, const char *words);

/* Bytes of the longest start of the words that keeps within `width`: ends at a blank, or
 * within a word that is longer.  0 of no words; only after paper_begin. */
size_t paper_line(struct paper *paper, const struct canvas_letters *letters,
    const char *words, double width);

/* How many lines these are. */
int paper_lines(struct paper *paper, const struct canvas_letters *letters,
    const char *words, double width);

/* A line's words at `x` from the left margin, `down` under the pen (their base line), which
 * does not move. */
void paper_put(struct paper *paper, const struct canvas_letters *letters, double x,
    double down, const char *words, size_t length);

/* A line across, so far under the pen. */
void paper_rule(struct paper *paper, double x, double down, double width, uint32_t rgb);

/* A name and its value beside it, both wrapped, its name so wide: the height, or put at the
 * pen, which moves below; only after paper_begin. */
struct paper_field {
	const char *name, *value;
	enum page_tone tone;
	double label;
};
double paper_field_height(struct paper *paper, const struct paper_field *field);
void paper_field_put(struct paper *paper, const struct paper_field *field);

/* Whether so many more, so high together, may wait with a heading; lets one wait. */
bool paper_may_wait(struct paper *paper, size_t count, double height);
void paper_field_wait(struct paper *paper, const struct paper_field *field);

/* Wrapped; after a heading it waits with it.  A bar stands before what is bad. */
void paper_sentence(
    struct paper *paper, double size, enum page_tone tone, const char *words);

#endif
