/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/freeze.h"

#include <string.h>

#include "daemon/shot/sheet.h"

struct freeze
freeze_into(unsigned char *bytes, size_t room)
{
	return (struct freeze){.bytes = bytes, .room = room};
}

struct freeze
freeze_from(const unsigned char *bytes, size_t length)
{
	union {
		const unsigned char *lent;
		unsigned char *bytes;
	} same = {.lent = bytes};

	return (struct freeze){.bytes = same.bytes, .room = length, .thaw = true};
}

void
freeze_u64(struct freeze *freeze, uint64_t *value)
{
	uint64_t read = 0;

	if (freeze->failed || freeze->room - freeze->length < sizeof(*value)) {
		freeze->failed = true;
		return;
	}
	for (unsigned i = 0; i < sizeof(*value); i++) {
		unsigned char *byte = &freeze->bytes[freeze->length++];

		if (freeze->thaw)
			read |= (uint64_t)*byte << 8 * i;
		else
			*byte = (unsigned char)(*value >> 8 * i);
	}
	if (freeze->thaw)
		*value = read;
}

void
freeze_i64(struct freeze *freeze, int64_t *value)
{
	uint64_t bits = (uint64_t)*value;

	freeze_u64(freeze, &bits);
	if (freeze->thaw && !freeze->failed)
		*value = (int64_t)bits;
}

void
freeze_int(struct freeze *freeze, int *value)
{
	int64_t wide = *value;

	freeze_i64(freeze, &wide);
	if (wide < INT32_MIN || wide > INT32_MAX)
		freeze->failed = true;
	if (freeze->thaw && !freeze->failed)
		*value = (int)wide;
}

void
freeze_u32(struct freeze *freeze, uint32_t *value)
{
	uint64_t wide = *value;

	freeze_u64(freeze, &wide);
	if (wide > UINT32_MAX)
		freeze->failed = true;
	if (freeze->thaw && !freeze->failed)
		*value = (uint32_t)wide;
}

void
freeze_bool(struct freeze *freeze, bool *value)
{
	int number = *value;

	freeze_int(freeze, &number);
	if (number < 0 || number > 1)
		freeze->failed = true;
	if (freeze->thaw && !freeze->failed)
		*value = number == 1;
}

void
freeze_double(struct freeze *freeze, double *value)
{
	uint64_t bits;

	memcpy(&bits, value, sizeof(bits));
	freeze_u64(freeze, &bits);
	if (freeze->thaw && !freeze->failed)
		memcpy(value, &bits, sizeof(bits));
}

static void
freeze_within(struct freeze *freeze, int64_t *ns, int64_t max_ns)
{
	freeze_i64(freeze, ns);
	if (*ns < -max_ns || *ns > max_ns)
		freeze->failed = true;
}

void
freeze_time(struct freeze *freeze, int64_t *ns)
{
	freeze_within(freeze, ns, FREEZE_MONO_MAX_NS);
}

static void
freeze_wall(struct freeze *freeze, struct wall *wall)
{
	freeze_within(freeze, &wall->ns, FREEZE_WALL_MAX_NS);
}

void
freeze_edge(struct freeze *freeze, struct edge *edge)
{
	freeze_bool(freeze, &edge->known);
	freeze_time(freeze, &edge->before.ns);
	freeze_time(freeze, &edge->at.ns);
	freeze_wall(freeze, &edge->wall);
	if (edge->before.ns > edge->at.ns)
		freeze->failed = true;
}

void
freeze_stay(struct freeze *freeze, struct stay *stay)
{
	freeze_int(freeze, &stay->oven);
	freeze_edge(freeze, &stay->in);
	freeze_edge(freeze, &stay->out);
	if (stay->oven < 0 || stay->oven >= SHEET_STAYS_MAX)
		freeze->failed = true;
}

void
freeze_sheet(struct freeze *freeze, struct sheet *sheet)
{
	freeze_i64(freeze, &sheet->number);
	freeze_bool(freeze, &sheet->unseen);
	freeze_time(freeze, &sheet->placed.ns);
	freeze_bool(freeze, &sheet->empty);
	freeze_bool(freeze, &sheet->gone);
	freeze_bool(freeze, &sheet->silent);
	freeze_bool(freeze, &sheet->filed);
	freeze_double(freeze, &sheet->fault_s);
	freeze_u32(freeze, &sheet->flags);
	freeze_int(freeze, &sheet->recipe);
	freeze_i64(freeze, &sheet->cycle_count);
	freeze_u64(freeze, &sheet->set_points);
	freeze_int(freeze, &sheet->sags);
	freeze_edge(freeze, &sheet->loaded);
	freeze_int(freeze, &sheet->stay_count);
	if (sheet->stay_count < 0 || sheet->stay_count > SHEET_STAYS_MAX) {
		sheet->stay_count = 0;
		freeze->failed = true;
	}
	for (int i = 0; i < sheet->stay_count; i++)
		freeze_stay(freeze, &sheet->stays[i]);
	freeze_edge(freeze, &sheet->sag);
	freeze_edge(freeze, &sheet->arrived);
	freeze_int(freeze, &sheet->closings);
	freeze_edge(freeze, &sheet->form_start);
	freeze_edge(freeze, &sheet->form_end);
	freeze_time(freeze, &sheet->left.ns);
	freeze_wall(freeze, &sheet->left_wall);
	freeze_edge(freeze, &sheet->last_form_start);
	freeze_edge(freeze, &sheet->last_form_end);
	freeze_double(freeze, &sheet->last_tool_mean_c);
}
