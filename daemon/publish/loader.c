/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/loader.h"

#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/publish/batch.h"
#include "daemon/publish/reading_pack.h"
#include "daemon/publish/settling.h"
#include "daemon/publish/shift_lines.h"

const char *
stream_name(enum stream stream)
{
	static const char *const names[STREAM_COUNT] = {
	    "shot", "event", "shift", "reading"};

	return names[stream];
}

int
loader_open(struct loader *loader, const struct settings *settings, size_t store,
    const char *ledger, struct error *error)
{
	*loader = (struct loader){.store = &settings->stores[store],
	    .batch_bytes = LOADER_BATCH_BYTES,
	    .batch_lines = (size_t)settings->stores[store].batch_lines};
	for (int i = 0; i < STREAM_COUNT; i++)
		loader->piece_lines[i] = 1;
	text_init(&loader->piece, LOADER_PIECE_BYTES);
	loader->read = ledger_read_open(ledger, error);
	if (loader->read == NULL)
		return ERROR_IO;
	const struct line_protocol_form form =
	    line_protocol_form(settings->site, loader->store->kind);
	shot_lines_init(&loader->lines, loader->read, &form);
	return 0;
}

void
loader_close(struct loader *loader)
{
	ledger_read_close(loader->read);
	text_release(&loader->piece);
}

/* --- one batch ------------------------------------------------------------------- */

struct loading {
	struct loader *loader;
	enum stream stream;
	struct batch *batch;                  /* to be filled */
	int64_t number;                       /* of the reading before */
	int64_t lost;                         /* readings, until now */
	const struct ledger_reading *reading; /* that is being unpacked */
	int code;                             /* what went wrong; 0 */
	struct error *error;
};

/* Puts the piece into the batch.  Returns 1, to end the reading, when it is full. */
static int
add_piece(struct loading *loading, int64_t change)
{
	struct loader *loader = loading->loader;
	struct batch *batch = loading->batch;
	size_t bytes = batch->text.length + loader->piece.length;
	size_t before = batch->count;

	if (batch->count > 0 && bytes > loader->batch_bytes)
		return 1;
	if (batch_add(batch, &loader->piece, change) != 0) {
		loading->code = error_set(loading->error, ERROR_MEMORY,
		    "out of memory for a batch of %zu bytes", bytes);
		return 1;
	}
	batch->lost = loading->lost;
	loader->piece_lines[loading->stream] =
	    batch->count > before ? batch->count - before : 1;
	return batch->count >= loader->batch_lines;
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct loading *loading = arg;
	struct loader *loader = loading->loader;

	int64_t change = shot->change;

	text_clear(&loader->piece);
	loading->code =
	    shot_lines_add(&loader->lines, &loader->piece, shot, loading->error);
	if (loading->code == 0)
		loading->code =
		    ledger_read_change(loader->read, shot->id, &change, loading->error);
	/* Somebody has made it anew meanwhile: its channels may be the new ones.  Whole it
	 * comes with its new change. */
	if (change != 0 && change != shot->change)
		text_clear(&loader->piece);
	return loading->code != 0 ? 1 : add_piece(loading, shot->change);
}

static int
take_event(void *arg, const struct ledger_event *event)
{
	struct loading *loading = arg;
	struct loader *loader = loading->loader;

	text_clear(&loader->piece);
	line_protocol_event(&loader->piece, &loader->lines.form, event);
	return add_piece(loading, event->change);
}

static int
take_shift(void *arg, const struct ledger_shift *shift)
{
	struct loading *loading = arg;
	struct loader *loader = loading->loader;

	text_clear(&loader->piece);
	loading->code = shift_lines_add(
	    &loader->piece, &loader->lines.form, loader->read, shift, loading->error);
	return loading->code != 0 ? 1 : add_piece(loading, shift->change);
}

static int
take_channel(void *arg, const struct reading_channel *channel)
{
	struct loading *loading = arg;
	struct loader *loader = loading->loader;

	line_protocol_reading(&loader->piece, &loader->lines.form,
	    loading->reading->line, loading->reading->at, channel);
	return 0;
}

/* What was dropped shows as a hole in the numbers. */
static int
take_reading(void *arg, const struct ledger_reading *reading)
{
	struct loading *loading = arg;
	struct loader *loader = loading->loader;

	text_clear(&loader->piece);
	loading->reading = reading;
	loading->lost += reading->number - loading->number - 1;
	loading->number = reading->number;
	if (reading_unpack(reading->bytes, reading->byte_count, take_channel, loading,
		NULL) != 0) {
		text_clear(&loader->piece);
		loading->lost++;
	}
	return add_piece(loading, reading->number);
}

/* At most `limit` shots, events or shifts. */
static int
fill(struct loading *loading, const struct settling_mark *after, size_t limit)
{
	struct loader *loader = loading->loader;
	struct error *error = loading->error;
	const struct ledger_filter filter = {
	    .after_change = after->change, .limit = limit};
	int code = 0;

	loading->number = after->change;
	loading->lost = after->lost;
	loading->code = 0;
	switch (loading->stream) {
	case STREAM_SHOT:
		code = ledger_read_shots(
		    loader->read, &filter, true, take_shot, loading, error);
		break;
	case STREAM_EVENT:
		code = ledger_read_events(
		    loader->read, &filter, take_event, loading, error);
		break;
	case STREAM_SHIFT:
		code = ledger_read_shifts(loader->read,
		    &(struct ledger_shift_filter){
			.after_change = after->change, .limit = limit},
		    take_shift, loading, error);
		break;
	case STREAM_READING:
		code = ledger_read_readings(loader->read, loader->store->name,
		    after->change, take_reading, loading, error);
		break;
	case STREAM_COUNT:
		break;
	}
	if (loading->code != 0)
		code = loading->code;
	/* What lies before the first that cannot be read goes out. */
	if (code != 0 && code != ERROR_MEMORY && loading->batch->change != 0)
		return 0;
	if (code != 0)
		batch_clear(loading->batch);
	return code;
}

int
loader_fill(struct loader *loader, enum stream stream,
    const struct settling_mark *after, struct batch *batch, struct error *error)
{
	struct loading loading = {
	    .loader = loader, .stream = stream, .batch = batch, .error = error};
	/* As many as a batch will hold, if they are like the last. */
	size_t limit = loader->batch_lines / loader->piece_lines[stream] + 1;
	int code = fill(&loading, after, limit);

	/* The ledger reads several at once, and gives none of them when it cannot read one. */
	if (code != 0 && code != ERROR_MEMORY)
		code = fill(&loading, after, 1);
	return code;
}
