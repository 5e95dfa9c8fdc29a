/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/page/cell.h"

#include <ctype.h>
#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "daemon/base/calendar.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

struct cell
cell_absent(const char *words)
{
	return (struct cell){.kind = CELL_ABSENT, .words = words, .tone = TONE_FAINT};
}

struct cell
cell_words(const char *words)
{
	if (!words)
		return cell_absent(NULL);
	return (struct cell){.kind = CELL_WORDS, .words = words};
}

struct cell
cell_number(double number, int digits)
{
	return cell_shown(number, number, digits);
}

struct cell
cell_shown(double number, double shown, int digits)
{
	return (struct cell){
	    .kind = CELL_NUMBER, .number = number, .shown = shown, .digits = digits};
}

struct cell
cell_count(int64_t count)
{
	return (struct cell){.kind = CELL_COUNT, .count = count};
}

struct cell
cell_truth(bool truth)
{
	return (struct cell){.kind = CELL_TRUTH, .truth = truth};
}

struct cell
cell_time(struct wall time)
{
	if (time.ns == 0)
		return cell_absent(NULL);
	return (struct cell){.kind = CELL_TIME, .time = time};
}

void
cell_add_plain(struct text *text, const char *words)
{
	const char *from = words;
	uint32_t point;

	while ((point = utf8_next(&words)) != 0) {
		if (utf8_steers(point) || point == 0xfffd)
			text_puts(text, "?");
		else
			text_add(text, from, (size_t)(words - from));
		from = words;
	}
}

static void
add_number(struct text *text, double shown, int digits)
{
	if (!isfinite(shown)) {
		text_puts(text, "-");
		return;
	}
	/* no "-0.0" */
	if (fabs(shown) < 0.5 * pow(10, -digits))
		shown = 0;
	text_printf(text, "%.*f", digits, shown);
}

void
cell_add_shown(struct text *text, const struct cell *cell)
{
	char time[CALENDAR_TEXT];

	if (cell->instead) {
		cell_add_plain(text, cell->instead);
		return;
	}
	switch (cell->kind) {
	case CELL_ABSENT:
		cell_add_plain(text, cell->words ? cell->words : "-");
		return;
	case CELL_WORDS:
		cell_add_plain(text, cell->words);
		return;
	case CELL_NUMBER:
		add_number(text, cell->shown, cell->digits);
		return;
	case CELL_COUNT:
		text_printf(text, "%" PRId64, cell->count);
		return;
	case CELL_TRUTH:
		text_puts(text, cell->truth ? "yes" : "no");
		return;
	case CELL_TIME:
		calendar_local_text(cell->time, time);
		text_puts(text, time);
		return;
	}
}

void
cell_add_list(struct text *text, const struct cell *cells, size_t count)
{
	for (size_t i = 0; i < count; i++) {
		if (i > 0)
			text_puts(text, ", ");
		cell_add_shown(text, &cells[i]);
	}
}

bool
cell_binds(const char *words, const char *blank)
{
	static const char *const units[] = {"%", "C", "F", "K", "s", "min", "h", "mm"};

	if (*blank != ' ' || blank == words || !isdigit((unsigned char)blank[-1]))
		return false;
	for (size_t i = 0; i < sizeof units / sizeof units[0]; i++) {
		size_t length = strlen(units[i]);
		if (strncmp(blank + 1, units[i], length) == 0 &&
		    !isalnum((unsigned char)blank[1 + length]))
			return true;
	}
	return false;
}
