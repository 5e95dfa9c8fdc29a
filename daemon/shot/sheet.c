/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/sheet.h"

#include <math.h>

/* Between two edges: only the polls that surely lie inside. */
static struct window
between(const struct edge *from, const struct edge *to)
{
	if (!from->known || !to->known || to->before.ns <= from->at.ns)
		return (struct window){.known = false};
	return (struct window){.known = true, .from = from->at, .to = to->before};
}

struct window
sheet_heat(const struct sheet *sheet)
{
	return between(&sheet->heat_start, &sheet->heat_end);
}

struct window
sheet_form(const struct sheet *sheet)
{
	return between(&sheet->form_start, &sheet->form_end);
}

double
sheet_uncertainty_s(const struct sheet *sheet)
{
	const struct edge *edges[] = {
	    &sheet->heat_start, &sheet->heat_end, &sheet->form_start, &sheet->form_end};
	double longest_s = 0.0;

	for (size_t i = 0; i < sizeof(edges) / sizeof(edges[0]); i++)
		if (edges[i]->known)
			longest_s = fmax(longest_s, edge_uncertainty_s(edges[i]));
	return longest_s;
}
