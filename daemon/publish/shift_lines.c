/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/shift_lines.h"

#include "daemon/base/error.h"
#include "daemon/publish/line_text.h"

/* Its whole second; 0 before the first of 1970: no time. */
static int64_t
point_ns(const struct ledger_shift *shift)
{
	int64_t ns = shift->from.ns;

	return ns < CLOCK_SECOND_NS ? 0 : ns - ns % CLOCK_SECOND_NS;
}

static void
begin_total(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *shift)
{
	text_puts(text, "shift_total");
	line_text_tag(text, "site", form->site);
	line_text_tag(text, "line", shift->line);
	line_text_tag(text, "shift", shift->shift);
	line_text_integer_tag(text, "revision", shift->revision);
}

static void
begin_row(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *shift, const struct ledger_shift_row *row)
{
	text_puts(text, "shift");
	line_text_tag(text, "site", form->site);
	line_text_tag(text, "line", shift->line);
	line_text_tag(text, "shift", shift->shift);
	line_text_tag(text, "recipe", row->recipe);
	line_text_tag(text, "tool", row->tool);
	line_text_tag(text, "characteristic", row->characteristic);
	line_text_integer_tag(text, "revision", shift->revision);
}

static void
end_point(struct text *text, const struct line_protocol_form *form, int64_t ns)
{
	if (form->current)
		text_puts(text, ",current=1");
	line_text_time(text, ns);
}

static void
end_mark(struct text *text, const struct line_protocol_form *form, int64_t ns)
{
	text_puts(text, form->current ? " superseded=1,current=0" : " superseded=1");
	line_text_time(text, ns);
}

void
shift_lines_total(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *shift)
{
	int64_t ns = point_ns(shift);
	char separator = ' ';

	if (ns == 0)
		return;
	begin_total(text, form, shift);
	for (int i = 0; i < LEDGER_SHIFT_SUMS; i++)
		if (line_text_number(text, separator,
			ledger_shift_sum_name((enum ledger_shift_sum)i), shift->sum[i]))
			separator = ',';
	end_point(text, form, ns);
}

void
shift_lines_row(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *shift, const struct ledger_shift_row *row)
{
	int64_t ns = point_ns(shift);
	char separator = ' ';

	if (ns == 0)
		return;
	begin_row(text, form, shift, row);
	for (int i = 0; i < LEDGER_SHIFT_FIGURES; i++)
		if (line_text_number(text, separator,
			ledger_shift_figure_name((enum ledger_shift_figure)i),
			row->figure[i]))
			separator = ',';
	end_point(text, form, ns);
}

void
shift_lines_total_mark(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *earlier)
{
	int64_t ns = point_ns(earlier);

	if (ns == 0)
		return;
	begin_total(text, form, earlier);
	end_mark(text, form, ns);
}

void
shift_lines_row_mark(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shift *earlier, const struct ledger_shift_row *row)
{
	int64_t ns = point_ns(earlier);

	if (ns == 0)
		return;
	begin_row(text, form, earlier, row);
	end_mark(text, form, ns);
}

/* --- all of them ------------------------------------------------------------------------- */

struct adding {
	struct text *text;
	const struct line_protocol_form *form;
	struct ledger_read *read;
	const struct ledger_shift *shift; /* whose rows are added */
	int code;
	struct error *error;
};

static int
take_row(void *arg, const struct ledger_shift_row *row)
{
	struct adding *adding = arg;

	shift_lines_row(adding->text, adding->form, adding->shift, row);
	return 0;
}

static int
take_earlier_row(void *arg, const struct ledger_shift_row *row)
{
	struct adding *adding = arg;

	shift_lines_row_mark(adding->text, adding->form, adding->shift, row);
	return 0;
}

static int
take_earlier(void *arg, const struct ledger_shift *earlier)
{
	struct adding *adding = arg;

	adding->shift = earlier;
	shift_lines_total_mark(adding->text, adding->form, earlier);
	adding->code = ledger_read_shift_rows(
	    adding->read, earlier->change, take_earlier_row, adding, adding->error);
	return adding->code;
}

int
shift_lines_add(struct text *text, const struct line_protocol_form *form,
    struct ledger_read *read, const struct ledger_shift *shift, struct error *error)
{
	struct adding adding = {text, form, read, shift, .error = error};

	shift_lines_total(text, form, shift);
	int code =
	    ledger_read_shift_rows(read, shift->change, take_row, &adding, error);
	if (code == 0)
		code = ledger_read_shift_earlier(
		    read, shift, take_earlier, &adding, error);
	if (code == 0)
		code = adding.code;
	if (code == 0 && text->failed)
		code = error_set(error, ERROR_MEMORY,
		    "out of memory for the lines of shift '%s' of line '%s'",
		    shift->shift, shift->line);
	return code;
}
