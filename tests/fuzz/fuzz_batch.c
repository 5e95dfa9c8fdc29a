/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A batch against a store that answers with any status: every line is settled once and in
 * order, a line is set aside only when it was refused alone, and none is called stored
 * but by an answer 204.
 *
 * Input: how many lines; a status (2 bytes) for each post.
 */
#include "tests/fuzz/target.h"

#include "daemon/publish/batch.h"
#include "daemon/publish/store.h"

enum { LINES_MAX = 64 };

static void
fill(struct batch *batch, size_t count)
{
	struct text lines;

	batch_init(batch, 1 << 16);
	text_init(&lines, 1 << 16);
	for (size_t i = 0; i < count; i += 2) {
		text_clear(&lines);
		for (size_t j = i; j < i + 2 && j < count; j++)
			text_printf(&lines, "line number=%zu\n", j);
		MUST(batch_add(batch, &lines, (int64_t)i + 1) == 0);
	}
	text_release(&lines);
}

/* The lines first ... first + count - 1, as they were filled in. */
static void
check_span(const struct batch *batch)
{
	char line[32];
	size_t length, at = 0;
	const char *span = batch_span(batch, &length);

	MUST(batch->span >= 1 && batch->first + batch->span <= batch->count);
	for (size_t i = batch->first; i < batch->first + batch->span; i++) {
		int wrote = snprintf(line, sizeof(line), "line number=%zu\n", i);

		MUST(at + (size_t)wrote <= length);
		MUST(memcmp(span + at, line, (size_t)wrote) == 0);
		MUST(batch->changes[i] == (int64_t)(i - i % 2 + 1));
		at += (size_t)wrote;
	}
	MUST(at == length);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	struct input input = {bytes, length};
	struct batch batch;
	size_t count = input_u8(&input) % (LINES_MAX + 1);

	fill(&batch, count);
	MUST(batch.count == count);
	while (!batch_settled(&batch) && input.left > 0) {
		int status = input_u16(&input);
		enum store_answer answer = store_answer(
		    STORE_INFLUXDB1, &(struct http_answer){.status = status});
		size_t first = batch.first, span = batch.span;

		check_span(&batch);
		MUST((answer == STORE_TAKEN) == (status == 204));
		switch (answer) {
		case STORE_TAKEN:
			batch_take(&batch);
			MUST(batch.first == first + span);
			break;
		case STORE_TOO_LARGE:
		case STORE_BAD_LINES:
			if (batch_halve(&batch)) {
				MUST(span > 1 && batch.span < span);
				MUST(batch.first == first);
			} else {
				MUST(span == 1);
				batch_skip(&batch);
				MUST(batch.first == first + 1);
			}
			break;
		case STORE_LATER:
		case STORE_CLOSED:
			break;
		}
		MUST(batch.first <= count);
	}
	batch_release(&batch);
	return 0;
}
