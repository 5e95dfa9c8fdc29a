/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Answers of stores of both families: whatever they are, they are refused with a sentence,
 * or shots, events, channels and lines come out that can be shown; the same when they come
 * in pieces.
 *
 * Input: which family and question; the length of a piece; the answer.
 */
#include "tests/fuzz/target.h"

#include <math.h>

#include "cli/source/influx.h"
#include "cli/source/json_lines.h"
#include "cli/source/victoria.h"
#include "daemon/base/error.h"

static int
read_answer(struct answered *answered, const struct store_subject_traits *traits,
    const struct input *input, size_t piece, struct error *error)
{
	struct json_lines lines;
	int code = 0;

	answered_init(answered);
	answered->point_ns = INT64_C(1772427600041000000);
	json_lines_init(&lines, traits->take, answered);
	for (size_t at = 0; at < input->left && code == 0; at += piece)
		code = json_lines_feed(&lines, (const char *)input->at + at,
		    input->left - at < piece ? input->left - at : piece, error);
	if (code == 0)
		code = json_lines_end(&lines, error);
	json_lines_release(&lines);
	if (code != 0)
		MUST(code == ERROR_NOT_FOUND || code == ERROR_REFUSED ||
		     code == ERROR_FULL);
	if (code != 0)
		MUST(is_sentence(error->text, sizeof error->text));
	return code;
}

#define MUST_END(name) MUST(strnlen(name, sizeof(name)) < sizeof(name))

static void
check_shot(const struct ledger_shot *shot)
{
	MUST_END(shot->line);
	MUST_END(shot->recipe);
	MUST_END(shot->tool);
	MUST_END(shot->lot);
	MUST_END(shot->material);
	MUST_END(shot->reason);
	MUST_END(shot->side);
	MUST_END(shot->properties);
	MUST(strcmp(shot->line, "unknown") != 0);
	MUST((int)shot->outcome >= 0 && shot->outcome < SHOT_OUTCOME_COUNT);
	MUST(shot->shot_no != 0 && shot->filed_at.ns != 0);
	for (int i = 0; i < FEATURE_COUNT; i++) {
		MUST((shot->absent[i] == ABSENT_NOT) == (bool)isfinite(shot->value[i]));
		MUST(shot->absent[i] <= ABSENT_NOT_CONFIGURED);
	}
}

static void
check_harvest(struct harvest *harvest)
{
	size_t points = harvest->count;

	harvest_finish(harvest);
	MUST(harvest->count <= points && points <= HARVEST_MOST);
	for (size_t i = 0; i < harvest->count; i++) {
		check_shot(&harvest->rows[i]->shot);
		MUST_END(harvest->rows[i]->set_up);
		for (size_t k = 0; k < i; k++)
			MUST(harvest->rows[k]->point_ns != harvest->rows[i]->point_ns ||
			     strcmp(harvest->rows[k]->shot.line,
				 harvest->rows[i]->shot.line) != 0);
		MUST(i == 0 || harvest->rows[i - 1]->shot.filed_at.ns <=
				   harvest->rows[i]->shot.filed_at.ns);
	}
}

static void
check_rest(struct answered *answered)
{
	answered_sort(answered);
	for (size_t i = 0; i < answered->event_count; i++) {
		const struct ledger_event *event = &answered->events[i].event;
		MUST_END(event->line);
		MUST_END(event->kind);
		MUST_END(event->text);
		MUST(i == 0 || answered->events[i - 1].event.at.ns <= event->at.ns);
	}
	for (size_t i = 0; i < answered->channel_count; i++) {
		MUST_END(answered->channels[i].device);
		MUST_END(answered->channels[i].channel);
		MUST_END(answered->channels[i].role);
	}
	for (size_t i = 0; i < answered->line_count; i++) {
		MUST_END(answered->lines[i]);
		MUST(i == 0 || strcmp(answered->lines[i - 1], answered->lines[i]) < 0);
	}
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	struct input input = {bytes, length};
	uint8_t which = input_u8(&input);
	size_t piece = 1 + input_u8(&input);
	const struct store_dialect *dialect =
	    which & 1 ? &victoria_dialect : &influx_dialect;
	const struct store_subject_traits *traits =
	    &dialect->subjects[(which >> 1) % SUBJECT_COUNT];
	struct answered pieces, whole;
	struct error error;

	if (traits->path == NULL)
		return 0;
	int code = read_answer(&pieces, traits, &input, piece, &error);
	MUST(read_answer(&whole, traits, &input, input.left + 1, &error) == code);
	MUST(pieces.harvest.count == whole.harvest.count);
	MUST(pieces.amount == whole.amount);
	MUST(pieces.event_count == whole.event_count);
	MUST(pieces.channel_count == whole.channel_count);
	MUST(pieces.line_count == whole.line_count && pieces.edge_s == whole.edge_s);
	check_harvest(&pieces.harvest);
	check_rest(&pieces);
	answered_release(&pieces);
	answered_release(&whole);
	return 0;
}
