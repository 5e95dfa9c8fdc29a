/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/sheet.h"

#include <math.h>

static const struct edge unknown_edge;

struct sheet
sheet_at(struct mono placed)
{
	return (struct sheet){
	    .placed = placed, .recipe = -1, .cycle_count = -1, .last_tool_mean_c = NAN};
}

const struct edge *
sheet_heat_start(const struct sheet *sheet)
{
	return sheet->stay_count > 0 ? &sheet->stays[0].in : &unknown_edge;
}

const struct edge *
sheet_heat_end(const struct sheet *sheet)
{
	return sheet->stay_count > 0 ? &sheet->stays[sheet->stay_count - 1].out
	                             : &unknown_edge;
}

struct stay *
sheet_stay(struct sheet *sheet)
{
	struct stay *last;

	if (sheet->stay_count == 0)
		return NULL;
	last = &sheet->stays[sheet->stay_count - 1];
	return last->out.known ? NULL : last;
}

/* Between two edges: only the polls that surely lie inside. */
static struct window
between(const struct edge *from, const struct edge *to)
{
	if (!from->known || !to->known || to->before.ns <= from->at.ns)
		return (struct window){.known = false};
	return (struct window){.known = true, .from = from->at, .to = to->before};
}

struct window
sheet_stay_window(const struct stay *stay)
{
	return between(&stay->in, &stay->out);
}

struct window
sheet_heat(const struct sheet *sheet)
{
	return between(sheet_heat_start(sheet), sheet_heat_end(sheet));
}

double
sheet_heat_gap_s(const struct sheet *sheet)
{
	double gap_s = 0.0;

	for (int i = 1; i < sheet->stay_count; i++)
		gap_s += edge_span_s(&sheet->stays[i - 1].out, &sheet->stays[i].in);
	return gap_s;
}

bool
sheet_reheated(const struct sheet *sheet)
{
	for (int i = 1; i < sheet->stay_count; i++)
		if (sheet->stays[i].oven <= sheet->stays[i - 1].oven)
			return true;
	return false;
}

struct window
sheet_form(const struct sheet *sheet)
{
	return between(&sheet->form_start, &sheet->form_end);
}

struct window
sheet_exit(const struct sheet *sheet, int stay)
{
	const struct edge *out = &sheet->stays[stay].out, *to = &sheet->arrived;

	if (stay + 1 < sheet->stay_count)
		to = &sheet->stays[stay + 1].in;
	else if (to->known && to->at.ns <= out->at.ns)
		to = &sheet->form_start;
	if (!out->known || !to->known || to->at.ns <= out->at.ns)
		return (struct window){.known = false};
	return (struct window){.known = true, .from = out->at, .to = to->at};
}

/* From the middle of an edge to that of another. */
static struct window
middles(const struct edge *from, const struct edge *to)
{
	if (!(edge_span_s(from, to) > 0.0))
		return (struct window){.known = false};
	return (struct window){
	    .known = true, .from = edge_time(from), .to = edge_time(to)};
}

struct window
sheet_tool_open(const struct sheet *sheet, double stop_s)
{
	struct window open = middles(&sheet->last_form_end, &sheet->form_start);

	if (open.known && window_s(open) > stop_s)
		open.known = false;
	return open;
}

struct window
sheet_tool_cycle(const struct sheet *sheet, double stop_s)
{
	if (!sheet_tool_open(sheet, stop_s).known)
		return (struct window){.known = false};
	return middles(&sheet->last_form_end, &sheet->form_end);
}

struct mono
sheet_need(const struct sheet *sheet, double stop_s)
{
	struct mono need = sheet->placed;

	if (sheet_tool_open(sheet, stop_s).known &&
	    sheet->last_form_end.before.ns < need.ns)
		need = sheet->last_form_end.before;
	return need;
}

struct wall
sheet_filed_at(const struct sheet *sheet)
{
	const struct edge *heat_end = sheet_heat_end(sheet);

	if (sheet->form_start.known)
		return sheet->form_start.wall;
	return heat_end->known ? heat_end->wall : sheet->left_wall;
}

double
sheet_uncertainty_s(const struct sheet *sheet)
{
	double longest_s =
	    fmax(sheet->form_start.known ? edge_uncertainty_s(&sheet->form_start) : 0.0,
		sheet->form_end.known ? edge_uncertainty_s(&sheet->form_end) : 0.0);

	for (int i = 0; i < sheet->stay_count; i++) {
		const struct stay *stay = &sheet->stays[i];

		if (stay->in.known)
			longest_s = fmax(longest_s, edge_uncertainty_s(&stay->in));
		if (stay->out.known)
			longest_s = fmax(longest_s, edge_uncertainty_s(&stay->out));
	}
	return longest_s;
}
