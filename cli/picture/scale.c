/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/picture/scale.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/picture/glyph.h"
#include "cli/picture/lettering.h"
#include "cli/picture/palette.h"
#include "cli/stats/sort.h"

/* --- choosing ---------------------------------------------------------------------- */

#define FENCE 6.0   /* ranges of the quartiles: what lies beyond is far from the rest */
#define LEFT_OFF 25 /* one value in so many may be */
#define NEAR_MOST 4.0 /* ranges of the values, the whole scale with the near lines */
#define FAR_MOST 5.0  /* likewise with a far one */
#define ROOM 0.06     /* of the range, beyond */
enum { TICKS = 5, FENCED_LEAST = 8 };

static void
values_range(const double *sorted, size_t n, double *low, double *high)
{
	*low = sorted[0];
	*high = sorted[n - 1];
	if (n < FENCED_LEAST)
		return;
	double first = sorted[n / 4], third = sorted[n - 1 - n / 4];
	double below = first - FENCE * (third - first);
	double above = third + FENCE * (third - first);
	size_t from = 0, to = n;
	while (from < n && sorted[from] < below)
		from++;
	while (to > from && sorted[to - 1] > above)
		to--;
	size_t off = n - (to - from);
	if (third > first && off > 0 && (off == 1 || off * LEFT_OFF <= n)) {
		*low = sorted[from];
		*high = sorted[to - 1];
	}
}

/* Takes a line in where the whole stays within `most` ranges of the values, or where the
 * values have no range. */
static void
take_in(double value, double range, double most, double *low, double *high)
{
	double wide = fmax(*high, value) - fmin(*low, value);

	if (!isfinite(value) || fabs(value) >= SCALE_HUGE)
		return;
	if (range <= 0 || wide <= most * range) {
		*low = fmin(*low, value);
		*high = fmax(*high, value);
	}
}

static struct axis
finish(double low, double high)
{
	double room = ROOM * (high - low);
	double floor =
	    low >= 0 ? 0 : -INFINITY; /* nothing is below zero: no scale there */

	if (room <= 0)
		return axis_make(low, high, TICKS, false);
	return axis_make(fmax(low - room, floor), high + room, TICKS, false);
}

/* Where no value is: the lines alone. */
static struct axis
lines_alone(const struct scale_asked *asked)
{
	double low = INFINITY, high = -INFINITY;

	for (size_t i = 0; i < asked->near_count; i++)
		take_in(asked->near[i], 0, 1, &low, &high);
	for (size_t i = 0; i < asked->far_count; i++)
		take_in(asked->far[i], 0, 1, &low, &high);
	return low > high ? axis_make(0, 1, TICKS, false) : finish(low, high);
}

bool
scale_make(const struct scale_asked *asked, struct axis *axis)
{
	double *sorted = calloc(asked->count ? asked->count : 1, sizeof *sorted);
	size_t n = 0;
	double low, high;

	if (!sorted) {
		*axis = lines_alone(asked);
		return false;
	}
	for (size_t i = 0; i < asked->count; i++)
		if (fabs(asked->values[i]) < SCALE_HUGE) /* and no NAN */
			sorted[n++] = asked->values[i];
	if (n == 0) {
		free(sorted);
		*axis = lines_alone(asked);
		return true;
	}
	sort_values(sorted, n);
	values_range(sorted, n, &low, &high);
	free(sorted);
	double range = high - low;
	for (size_t i = 0; i < asked->near_count; i++)
		take_in(asked->near[i], range, NEAR_MOST, &low, &high);
	range = high - low;
	for (size_t i = 0; i < asked->far_count; i++)
		take_in(asked->far[i], range, FAR_MOST, &low, &high);
	*axis = finish(low, high);
	return true;
}

bool
scale_holds(const struct axis *axis, double value)
{
	return value >= axis->low && value <= axis->high;
}

/* --- its numbers --------------------------------------------------------------------- */

static const struct canvas_letters number_letters = {
    .size = LETTERING_SMALL, .rgb = PALETTE_FAINT, .anchor = ANCHOR_END};

/* Steps below 10^-DIGITS_MOST and numbers from HUGE_NUMBER on are told by powers of ten. */
enum { DIGITS_MOST = 6, GIVEN_MORE = 3, POWER_DIGITS_MOST = 15 };
#define HUGE_NUMBER 1e12
#define AS_GIVEN 1e-9 /* in parts of the number: what a change of unit leaves */

static bool
is_by_powers(const struct axis *axis, double value)
{
	return axis->digits > DIGITS_MOST || fabs(value) >= HUGE_NUMBER ||
	       fabs(axis->low) >= HUGE_NUMBER || fabs(axis->high) >= HUGE_NUMBER;
}

/* With so many digits after the point as the last one needs that is written out. */
static void
write_by_powers(const struct axis *axis, double value, int more, char *to)
{
	double last = floor(log10(axis->step) + 1e-9) - more;
	double digits = floor(log10(fabs(value))) - last;

	digits = fmin(fmax(digits, 0), POWER_DIGITS_MOST);
	snprintf(to, SCALE_NUMBER, "%.*e", (int)digits, value);
}

static void
write_number(const struct axis *axis, double value, int more, char *to)
{
	const double step = pow(10, -more) * axis->step;

	if (!isfinite(value))
		snprintf(to, SCALE_NUMBER, "%g", value);
	else if (!is_by_powers(axis, value))
		lettering_number(value, axis->digits + more, false, to);
	else if (fabs(value) < 1e-6 * step)
		snprintf(to, SCALE_NUMBER, "0");
	else
		write_by_powers(axis, value, more, to);
}

/* Zeros at the end of what stands after the point, which may have a power behind it. */
static void
strip_zeros(char *number)
{
	char *point = strchr(number, '.');

	if (!point)
		return;
	char *end = point + strcspn(point, "e"), *last = end;
	while (last[-1] == '0')
		last--;
	if (last[-1] == '.')
		last--;
	memmove(last, end, strlen(end) + 1);
}

/* What was set in few digits stays as it is; in another unit it was set in few, and here it
 * is rounded like what is computed. */
void
scale_number(const struct axis *axis, double value, int more, bool given,
    char to[static SCALE_NUMBER])
{
	if (!given) {
		write_number(axis, value, more, to);
		return;
	}
	write_number(axis, value, GIVEN_MORE, to);
	if (fabs(strtod(to, NULL) - value) > AS_GIVEN * fabs(value))
		write_number(axis, value, more, to);
	strip_zeros(to);
}

double
scale_width(const struct axis *axis)
{
	double width = 0, at;
	char number[SCALE_NUMBER];

	for (int i = 0; !isnan(at = axis_tick(axis, i)); i++) {
		scale_number(axis, at, 0, false, number);
		width = fmax(width, canvas_text_width(&number_letters, number));
	}
	return width + 5;
}

void
scale_put(struct canvas *canvas, const struct axes *axes)
{
	static const struct canvas_pen grid = {PALETTE_GRID, 0.6, DASH_SOLID};
	const struct canvas_box *box = &axes->box;
	char number[SCALE_NUMBER];
	double at;

	for (int i = 0; !isnan(at = axis_tick(&axes->y, i)); i++) {
		double y = axes_point(axes, axes->x.low, at).y;
		canvas_line(canvas, (struct canvas_point){box->left, y},
		    (struct canvas_point){box->right, y}, &grid);
		scale_number(&axes->y, at, 0, false, number);
		canvas_text(canvas,
		    (struct canvas_point){box->left - 5, y + LETTERING_RISE},
		    &number_letters, number);
	}
}

void
scale_ground(struct canvas *canvas, const struct axes *axes, double lower, double upper)
{
	canvas_fill(canvas, axes->box, PALETTE_GROUND);
	if (!isnan(upper) && upper < axes->y.high)
		axes_band(canvas, axes, fmax(upper, axes->y.low), axes->y.high,
		    PALETTE_BEYOND);
	if (!isnan(lower) && lower > axes->y.low)
		axes_band(canvas, axes, axes->y.low, fmin(lower, axes->y.high),
		    PALETTE_BEYOND);
}

/* --- lines and their words -------------------------------------------------------------- */

void
scale_lines_add(struct scale_lines *lines, const struct axis *axis, double value,
    const char *words, struct canvas_pen pen, bool given)
{
	char number[SCALE_NUMBER];

	if (!isfinite(value) || lines->count == SCALE_LINES)
		return;
	struct scale_line *line = &lines->list[lines->count++];
	scale_number(axis, value, 1, given, number);
	*line = (struct scale_line){.value = value, .pen = pen, .strong = given};
	snprintf(line->words, sizeof line->words, "%.30s %s", words, number);
}

static struct canvas_letters
letters_of(const struct scale_line *line)
{
	return (struct canvas_letters){.size = LETTERING_SMALL,
	    .rgb = line->strong ? PALETTE_INK : PALETTE_FAINT,
	    .bold = line->strong};
}

double
scale_lines_width(const struct scale_lines *lines)
{
	double width = 0;

	for (size_t i = 0; i < lines->count; i++) {
		const struct canvas_letters letters = letters_of(&lines->list[i]);
		width = fmax(width, canvas_text_width(&letters, lines->list[i].words));
	}
	return width;
}

/* A line's y; at the edge where it is off the scale. */
static double
line_y(const struct axes *axes, double value)
{
	if (value > axes->y.high)
		return axes->box.top;
	if (value < axes->y.low)
		return axes->box.bottom;
	return axes_point(axes, axes->x.low, value).y;
}

void
scale_lines_put(struct canvas *canvas, const struct axes *axes,
    const struct scale_lines *lines, double left, double right)
{
	for (size_t i = 0; i < lines->count; i++) {
		const struct scale_line *line = &lines->list[i];
		double y = line_y(axes, line->value);
		if (scale_holds(&axes->y, line->value)) {
			canvas_line(canvas, (struct canvas_point){left, y},
			    (struct canvas_point){right, y}, &line->pen);
			continue;
		}
		bool up = line->value > axes->y.high;
		glyph_put(canvas, up ? GLYPH_UP : GLYPH_DOWN,
		    (struct canvas_point){right - 7, up ? y + 6 : y - 6}, 5,
		    line->pen.rgb);
	}
}

#define APART 12.0 /* from one label's base to the next */

/* From above to below, then pushed apart downwards and, past the end, back up. */
static void
part(const struct axes *axes, struct scale_lines *lines)
{
	struct scale_line *list = lines->list;

	for (size_t i = 1; i < lines->count; i++) {
		struct scale_line line = list[i];
		size_t to = i;
		for (; to > 0 && list[to - 1].value < line.value; to--)
			list[to] = list[to - 1];
		list[to] = line;
	}
	for (size_t i = 0; i < lines->count; i++) {
		list[i].label = line_y(axes, list[i].value);
		if (i > 0)
			list[i].label = fmax(list[i].label, list[i - 1].label + APART);
	}
	double below = axes->box.bottom + APART / 2;
	for (size_t i = lines->count; i-- > 0;) {
		list[i].label = fmin(below, list[i].label);
		below = list[i].label - APART;
	}
}

void
scale_lines_label(struct canvas *canvas, const struct axes *axes,
    struct scale_lines *lines, double from, double x)
{
	part(axes, lines);
	for (size_t i = 0; i < lines->count; i++) {
		const struct scale_line *line = &lines->list[i];
		const struct canvas_letters letters = letters_of(line);
		struct canvas_pen pen = {line->pen.rgb, 0.7, line->pen.dash};
		char words[LETTERING_ROOM];
		canvas_line(canvas,
		    (struct canvas_point){from, line_y(axes, line->value)},
		    (struct canvas_point){x - 2, line->label}, &pen);
		lettering_fit(&letters, line->words, SHEET_WIDTH - 4 - x, words);
		canvas_text(canvas,
		    (struct canvas_point){x, line->label + LETTERING_RISE}, &letters,
		    words);
	}
}
