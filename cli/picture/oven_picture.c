/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/oven_picture.h"

#include <math.h>

#include "cli/picture/glyph.h"
#include "cli/picture/lettering.h"
#include "cli/picture/palette.h"

#define BETWEEN 20.0 /* two plans side by side */
#define WHOLE (SHEET_WIDTH - 2 * SHEET_EDGE)
#define HALF ((WHOLE - BETWEEN) / 2)
#define TILE_HEIGHT 30.0
#define TILE_WIDEST 46.0
#define TILE_NARROWEST 28.0
#define ARROW 2.6      /* its radius */
#define ARROW_FROM 0.1 /* of the scale's end: smaller differences have none */
#define TILE_GAP 2.0
#define CAPTION 18.0 /* of a plan */
#define HEADING 17.0 /* of a bank */
#define AFTER 8.0    /* a bank */
#define SCALE_HEIGHT 30.0
#define ORDER \
	"Zones stand in the order of their numbers, not where they hang in the oven."

enum plan { PLAN_OUTPUT, PLAN_DIFFERENCE };

enum arrangement {
	BESIDE,  /* output left, difference right, banks under each other */
	PAIRS,   /* output alone, two banks beside each other */
	STACKED, /* everything under each other, since banks are wide */
};

struct layout {
	enum arrangement arrangement;
	double room; /* of a bank in width */
	double tile; /* width */
	double most; /* the difference that the scale ends with */
	int digits;  /* of differences */
};

/* --- how it is laid out ------------------------------------------------------------------- */

static size_t
columns_of(const struct oven_bank *bank, double room)
{
	size_t most = (size_t)(room / TILE_NARROWEST);
	size_t columns = bank->columns ? bank->columns
	                               : (size_t)ceil(sqrt((double)bank->zone_count));

	columns = columns < most ? columns : most;
	return columns > 0 ? columns : 1;
}

static double
bank_height(const struct oven_bank *bank, double room)
{
	size_t columns = columns_of(bank, room);
	size_t rows = (bank->zone_count + columns - 1) / columns;

	return HEADING + (double)(rows > 0 ? rows : 1) * TILE_HEIGHT + AFTER;
}

/* The end of the scale of differences: round, and never so near that noise looks large. */
static void
lay_scale(const struct oven_picture *what, struct layout *layout)
{
	static const double ends[] = {0.05, 0.1, 0.2, 0.5, 1};
	double most = 0;

	for (size_t i = 0; i < what->bank_count; i++)
		for (size_t k = 0; k < what->banks[i].zone_count; k++)
			most = fmax(most, fabs(what->banks[i].zones[k].difference));
	layout->digits = most < 0.0995 ? 1 : 0;
	for (size_t i = 0; i < sizeof ends / sizeof ends[0]; i++) {
		layout->most = ends[i];
		if (most <= ends[i])
			break;
	}
}

static struct layout
lay(const struct oven_picture *what)
{
	struct layout layout = {
	    .arrangement = what->reference ? BESIDE : PAIRS, .room = HALF};
	size_t widest = 1;

	for (size_t i = 0; i < what->bank_count; i++) {
		size_t columns = columns_of(&what->banks[i], WHOLE);
		widest = columns > widest ? columns : widest;
	}
	if ((double)widest * TILE_NARROWEST > HALF) {
		layout.arrangement = STACKED;
		layout.room = WHOLE;
	}
	layout.tile = fmin(layout.room / (double)widest, TILE_WIDEST);
	lay_scale(what, &layout);
	return layout;
}

/* --- a tile ----------------------------------------------------------------------------------- */

static void
put_hatch(struct canvas *canvas, const struct canvas_box *box)
{
	static const struct canvas_pen pen = {0xb8bfc4, 0.8, DASH_SOLID};
	double height = box->bottom - box->top;

	canvas_fill(canvas, *box, PALETTE_GROUND);
	canvas_clip(canvas, *box);
	int lines = (int)((box->right - box->left + height) / 6) + 1;
	for (int i = 0; i < lines; i++) {
		double x = box->left - height + 6 * i;
		canvas_line(canvas, (struct canvas_point){x, box->bottom},
		    (struct canvas_point){x + height, box->top}, &pen);
	}
	canvas_unclip(canvas);
}

static void
put_outline(struct canvas *canvas, const struct canvas_box *box)
{
	static const struct canvas_pen pen = {PALETTE_FRAME, 0.5, DASH_SOLID};
	const struct canvas_point corners[] = {{box->left, box->top},
	    {box->right, box->top}, {box->right, box->bottom}, {box->left, box->bottom},
	    {box->left, box->top}};

	canvas_polyline(canvas, corners, 5, &pen);
}

/* The first of two ways to say it that is narrow enough. */
static void
put_centred(struct canvas *canvas, struct canvas_point at, double width, uint32_t rgb,
    const char *const ways[2])
{
	const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = rgb, .anchor = ANCHOR_MIDDLE};
	char words[LETTERING_ROOM];

	bool wide = canvas_text_width(&letters, ways[0]) <= width - 4;
	lettering_fit(&letters, ways[wide ? 0 : 1], width, words);
	canvas_text(canvas, at, &letters, words);
}

/* "+1.2", with a minus as long as the plus; "0" has no sign. */
enum { SIGNED = LETTERING_NUMBER + 12 };
static void
signed_words(double percent, int digits, const char *unit, char to[static SIGNED])
{
	char number[LETTERING_NUMBER];

	if (fabs(percent) < 0.5 * pow(10, -digits)) {
		snprintf(to, SIGNED, "0%s", unit);
		return;
	}
	lettering_number(fabs(percent), digits, false, number);
	snprintf(
	    to, SIGNED, "%s%s%s", percent < 0 ? "\xe2\x88\x92" : "+", number, unit);
}

static void
put_value(struct canvas *canvas, const struct canvas_box *box, enum plan plan,
    const struct oven_zone *zone, const struct layout *layout)
{
	double value = plan == PLAN_OUTPUT ? zone->output : zone->difference;
	double width = box->right - box->left - 1;
	struct canvas_point at = {(box->left + box->right) / 2, box->bottom - 4};
	char words[SIGNED], wide[SIGNED + 2];
	uint32_t ground;

	if (!isfinite(value)) {
		put_hatch(canvas, box);
		put_outline(canvas, box);
		put_centred(canvas, at, width, PALETTE_INK,
		    (const char *const[]){"absent", "\xe2\x80\x93"});
		return;
	}
	if (plan == PLAN_OUTPUT) {
		ground = palette_amount(value);
		snprintf(words, sizeof words, "%.0f", 100 * value);
		snprintf(wide, sizeof wide, "%s %%", words);
	} else {
		ground = palette_difference(value / layout->most);
		signed_words(100 * value, layout->digits, "", words);
		snprintf(wide, sizeof wide, "%s", words);
	}
	canvas_fill(canvas, *box, ground);
	put_outline(canvas, box);
	put_centred(canvas, at, width, palette_words_on(ground),
	    (const char *const[]){wide, words});
}

/* Less and more of one size are alike without colour: an arrow in the corner, where the label
 * leaves room, tells them apart as the sign does. */
static void
put_arrow(struct canvas *canvas, const struct canvas_box *box, double part,
    double label, uint32_t rgb)
{
	struct canvas_point at = {box->right - ARROW - 3.5, box->top + 7};

	if (fabs(part) >= ARROW_FROM && box->left + 3 + label + 2 < at.x - ARROW)
		glyph_put(canvas, part > 0 ? GLYPH_UP : GLYPH_DOWN, at, ARROW, rgb);
}

static void
put_tile(struct canvas *canvas, struct canvas_point corner, enum plan plan,
    const struct oven_zone *zone, const struct layout *layout)
{
	const struct canvas_box box = {corner.x, corner.y,
	    corner.x + layout->tile - TILE_GAP, corner.y + TILE_HEIGHT - TILE_GAP};
	double value = plan == PLAN_OUTPUT ? zone->output : zone->difference;
	struct canvas_letters letters = {.size = LETTERING_SMALL, .rgb = PALETTE_INK};
	char words[LETTERING_ROOM];

	put_value(canvas, &box, plan, zone, layout);
	if (isfinite(value))
		letters.rgb = palette_words_on(
		    plan == PLAN_OUTPUT ? palette_amount(value)
					: palette_difference(value / layout->most));
	lettering_fit(&letters, zone->label, layout->tile - TILE_GAP - 4, words);
	canvas_text(
	    canvas, (struct canvas_point){box.left + 3, box.top + 11}, &letters, words);
	if (plan == PLAN_DIFFERENCE && isfinite(value))
		put_arrow(canvas, &box, value / layout->most,
		    canvas_text_width(&letters, words), letters.rgb);
}

/* --- a bank, a plan ----------------------------------------------------------------------------- */

static void
put_bank(struct canvas *canvas, struct canvas_point corner, enum plan plan,
    const struct oven_bank *bank, const struct layout *layout)
{
	const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_INK, .bold = true};
	size_t columns = columns_of(bank, layout->room);
	char words[LETTERING_ROOM];

	lettering_fit(&letters, bank->heading, layout->room, words);
	canvas_text(
	    canvas, (struct canvas_point){corner.x, corner.y + 12}, &letters, words);
	for (size_t i = 0; i < bank->zone_count; i++) {
		size_t row = i / columns;
		struct canvas_point tile = {
		    corner.x + (double)(i % columns) * layout->tile,
		    corner.y + HEADING + (double)row * TILE_HEIGHT};
		put_tile(canvas, tile, plan, &bank->zones[i], layout);
	}
}

/* Coloured fields from one end of a scale to the other, with its ends in words. */
static void
put_scale(struct canvas *canvas, struct canvas_point corner, enum plan plan,
    const struct layout *layout)
{
	enum { FIELDS = 9 };
	struct canvas_letters letters = {.size = LETTERING_SMALL, .rgb = PALETTE_FAINT};
	char low[SIGNED] = "0 %", high[SIGNED] = "100 %";
	struct canvas_box box = {corner.x, corner.y + 3, 0, corner.y + 14};

	if (plan == PLAN_DIFFERENCE) {
		signed_words(-100 * layout->most, 0, "", low);
		signed_words(100 * layout->most, 0, " points", high);
	}
	canvas_text(
	    canvas, (struct canvas_point){box.left, corner.y + 12}, &letters, low);
	box.left += canvas_text_width(&letters, low) + 8;
	for (int i = 0; i < FIELDS; i++) {
		double part = (double)i / (FIELDS - 1);
		box.right = box.left + 12;
		canvas_fill(canvas, box,
		    plan == PLAN_OUTPUT ? palette_amount(part)
					: palette_difference(2 * part - 1));
		box.left = box.right;
	}
	struct canvas_point at = {box.left + 5, corner.y + 12};
	canvas_text(canvas, at, &letters, high);
	box.left = at.x + canvas_text_width(&letters, high) + 16;
	box.right = box.left + 16;
	put_hatch(canvas, &box);
	put_outline(canvas, &box);
	canvas_text(canvas, (struct canvas_point){box.right + 5, corner.y + 12},
	    &letters, "absent");
}

static void
put_caption(struct canvas *canvas, struct canvas_point corner, enum plan plan,
    const struct oven_picture *what, double room)
{
	const struct canvas_letters letters = {
	    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT};
	char caption[LETTERING_ROOM] = "mean output", words[LETTERING_ROOM];

	if (plan == PLAN_DIFFERENCE)
		snprintf(
		    caption, sizeof caption, "difference from %s", what->reference);
	lettering_fit(&letters, caption, room, words);
	canvas_text(
	    canvas, (struct canvas_point){corner.x, corner.y + 12}, &letters, words);
}

/* The banks of a plan from `top` on; draws where there is a canvas.  Its bottom. */
static double
plan_through(struct canvas *canvas, struct canvas_point corner, enum plan plan,
    const struct oven_picture *what, const struct layout *layout)
{
	bool pairs = layout->arrangement == PAIRS;
	double y = corner.y + CAPTION, height = 0;

	if (canvas)
		put_caption(canvas, corner, plan, what, layout->room);
	for (size_t i = 0; i < what->bank_count; i++) {
		bool right = pairs && i % 2 == 1;
		if (!right) {
			y += height;
			height = 0;
		}
		height = fmax(height, bank_height(&what->banks[i], layout->room));
		if (canvas)
			put_bank(canvas,
			    (struct canvas_point){
				corner.x + (right ? HALF + BETWEEN : 0), y},
			    plan, &what->banks[i], layout);
	}
	y += height;
	if (canvas)
		put_scale(canvas, (struct canvas_point){corner.x, y}, plan, layout);
	return y + SCALE_HEIGHT;
}

static double
go_through(struct canvas *canvas, const struct oven_picture *what)
{
	struct layout layout = lay(what);
	struct canvas_point corner = {SHEET_EDGE, lettering_head_height(ORDER) + 4};
	double bottom = plan_through(canvas, corner, PLAN_OUTPUT, what, &layout);

	if (!what->reference)
		return bottom;
	if (layout.arrangement == STACKED)
		corner.y = bottom;
	else
		corner.x += HALF + BETWEEN;
	return plan_through(canvas, corner, PLAN_DIFFERENCE, what, &layout);
}

static void
draw(struct canvas *canvas, const void *drawn)
{
	const struct oven_picture *what = drawn;

	lettering_head(canvas,
	    (struct canvas_point){SHEET_WIDTH, go_through(NULL, what)}, what->heading,
	    ORDER);
	go_through(canvas, what);
}

struct picture
oven_picture_make(const struct oven_picture *what, const char *name, const char *title,
    const char *description)
{
	return (struct picture){.name = name,
	    .title = title,
	    .description = description,
	    .size = {SHEET_WIDTH, go_through(NULL, what)},
	    .heading = what->heading,
	    .sentence = ORDER,
	    .head = lettering_head_height(ORDER),
	    .draw = draw,
	    .what = what};
}
