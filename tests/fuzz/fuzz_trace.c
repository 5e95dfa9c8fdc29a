/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Bytes that a ledger kept as a shot's trace.  The sheet that is taken out of them is one
 * that can be and freezes to the same bytes again; a record made of it has numbers only.
 *
 * Input: the trace; or 'z', how many numbers the sheet is, these, and what a pack holds
 * deflated.
 */
#include "tests/fuzz/target.h"

#include <math.h>
#include <zlib.h>

#include "daemon/base/error.h"
#include "daemon/shot/circumstances.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/pack_form.h"
#include "daemon/shot/sheet.h"
#include "daemon/shot/shot.h"
#include "daemon/shot/trace.h"

#include "tests/fuzz/plant.h"

enum { TRACE_MAX = 1 << 18, TRACE_VERSION_AT = 0, SHEET_AT = 1 };

static void
check_edge(const struct edge *edge)
{
	MUST(edge->before.ns <= edge->at.ns);
	MUST(edge->before.ns >= -FREEZE_MONO_MAX_NS);
	MUST(edge->at.ns <= FREEZE_MONO_MAX_NS);
	MUST(edge->wall.ns >= -FREEZE_WALL_MAX_NS &&
	     edge->wall.ns <= FREEZE_WALL_MAX_NS);
}

static void
check_sheet(const uint8_t *bytes, size_t length, const struct sheet *thawed)
{
	unsigned char again[4096];
	struct sheet sheet = *thawed;
	struct freeze freeze = freeze_into(again, sizeof(again));

	MUST(sheet.stay_count >= 0 && sheet.stay_count <= SHEET_STAYS_MAX);
	for (int i = 0; i < sheet.stay_count; i++) {
		MUST(sheet.stays[i].oven >= 0 && sheet.stays[i].oven < SHEET_STAYS_MAX);
		check_edge(&sheet.stays[i].in);
		check_edge(&sheet.stays[i].out);
	}
	check_edge(&sheet.loaded);
	check_edge(&sheet.sag);
	check_edge(&sheet.form_start);
	check_edge(&sheet.form_end);
	freeze_sheet(&freeze, &sheet);
	MUST(!freeze.failed && freeze.length <= length - SHEET_AT);
	MUST(memcmp(again, bytes + SHEET_AT, freeze.length) == 0);
}

static void
check_shot(const struct shot *shot)
{
	MUST(shot->outcome < SHOT_OUTCOME_COUNT);
	MUST(memchr(shot->reason, '\0', sizeof(shot->reason)) != NULL);
	for (int i = 0; i < FEATURE_COUNT; i++) {
		MUST((shot->absent[i] == ABSENT_NOT) == !isnan(shot->value[i]));
		MUST(!isinf(shot->value[i]));
	}
	for (size_t i = 0; i < shot->channel_count; i++)
		MUST(
		    shot->channels[i].coverage >= 0 && shot->channels[i].coverage <= 1);
}

static size_t
put_number(unsigned char *bytes, uint64_t number)
{
	size_t length = 0;

	for (; number >= 0x80; number >>= 7)
		bytes[length++] = (unsigned char)(number | 0x80);
	bytes[length++] = (unsigned char)number;
	return length;
}

/* The sheet as it is and a whole pack of what follows it. */
static size_t
compose(unsigned char *trace, struct input *input)
{
	size_t count = input_u8(input);
	size_t at = SHEET_AT + input_frozen(input, count, trace + SHEET_AT);
	uLongf room = TRACE_MAX / 2;

	trace[TRACE_VERSION_AT] = 1;
	if (input->left == 0)
		return at;
	size_t length_at = at, pack_at = at + sizeof(uint64_t);
	at = pack_at + put_number(trace + pack_at, PACK_VERSION);
	at += put_number(trace + at, input->left);
	MUST(compress2(trace + at, &room, input->at, (uLong)input->left, 1) == Z_OK);
	at += room;
	for (size_t i = 0; i < sizeof(uint64_t); i++)
		trace[length_at + i] = (unsigned char)((at - pack_at) >> 8 * i);
	return at;
}

static void
recompute(const struct settings *made, const struct settings *wanted,
    const uint8_t *bytes, size_t length)
{
	struct trace_kept kept = {bytes, length, made};
	struct circumstances untold = circumstances_untold(wanted, -1);
	struct error error = {""};
	struct shot *shot = shot_new(wanted->channel_count);

	MUST(shot != NULL);
	shot->side = -1;
	shot->shot_no = 1;
	int rc = trace_recompute(&kept, wanted, &untold, shot, &error);
	MUST(rc == 0 || rc == ERROR_INVALID || rc == ERROR_MEMORY);
	if (rc == 0)
		check_shot(shot);
	else
		MUST(is_sentence(error.text, sizeof(error.text)));
	shot_free(shot);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static unsigned char composed[TRACE_MAX];
	static struct settings *settings, *other;
	struct input input = {bytes, length};
	struct error error = {""};
	struct sheet sheet;

	if (settings == NULL) {
		settings = plant_parse(PLANT_ROTARY);
		other = plant_parse(PLANT_SHUTTLE);
	}
	if (length > 0 && length < TRACE_MAX / 4 && bytes[0] == 'z') {
		input_u8(&input);
		input.left = compose(composed, &input);
		input.at = composed;
	}
	int rc = trace_sheet(input.at, input.left, &sheet, &error);

	if (rc == 0)
		check_sheet(input.at, input.left, &sheet);
	else
		MUST(is_sentence(error.text, sizeof(error.text)));
	recompute(settings, settings, input.at, input.left);
	recompute(settings, other, input.at, input.left);
	recompute(other, other, input.at, input.left);
	return 0;
}
