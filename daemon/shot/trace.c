/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/trace.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/shot/freeze.h"
#include "daemon/shot/gather.h"
#include "daemon/shot/pack.h"
#include "daemon/shot/scanned.h"

/*
 * The form: the version (a byte), the sheet frozen, and packs, each behind its length
 * (frozen too).  Several, so that the trace of an hour's heat takes no more memory to make
 * or to read than that of a short one.
 */
enum {
	VERSION = 1,
	SHEET_ROOM = 4096, /* a frozen sheet takes less */
	MARGIN_POLLS = 3,  /* where the polls are slow, at least so many */
};

/* --- making --------------------------------------------------------------------------- */

enum { SPAN_NEVER, SPAN_WAY, SPAN_HEAT, SPAN_FORM, SPAN_COUNT };

struct maker {
	const struct feature_source *source;
	struct window spans[SPAN_COUNT];
	struct window all;      /* of them together, with the widest margin */
	unsigned char *span_of; /* by channel */
	bool *kept;             /* by channel: of the scan at hand */
	int64_t label_ns;       /* wall against mono as the sheet left */
	struct gather *gather;  /* scans for the next pack */
	unsigned char *trace;
	size_t length;
};

/* Makes the span hold a window too. */
static void
join(struct window *span, struct window window)
{
	if (!window.known)
		return;
	if (!span->known)
		*span = window;
	if (window.from.ns < span->from.ns)
		span->from = window.from;
	if (window.to.ns > span->to.ns)
		span->to = window.to;
}

/* Makes the span reach from the last poll before an edge to the first after it: what is made
 * of an uncertain edge may look at all that lies between. */
static void
reach(struct window *span, struct edge edge)
{
	if (edge.known)
		join(span, (struct window){true, edge.before, edge.at});
}

/* Around the span of a channel.  What is read as a heat begins is read within it: the slow
 * polls between need no margin. */
static int64_t
margin_ns(const struct channel_settings *channel)
{
	double margin_s = TRACE_MARGIN_S;

	if (!channel->at_heat)
		margin_s = fmax(margin_s, MARGIN_POLLS * channel->period_s);
	return (int64_t)(margin_s * (double)CLOCK_SECOND_NS);
}

/* All spans, and the widest margin of the line's channels. */
static void
set_all(struct maker *maker)
{
	const struct settings *settings = maker->source->settings;
	int64_t widest_ns = 0;

	for (size_t i = 0; i < settings->channel_count; i++) {
		const struct channel_settings *channel = &settings->channels[i];
		int64_t one_ns = margin_ns(channel);

		if (&settings->lines[settings->devices[channel->device].line] ==
			maker->source->line &&
		    one_ns > widest_ns)
			widest_ns = one_ns;
	}
	for (int i = 0; i < SPAN_COUNT; i++)
		join(&maker->all, maker->spans[i]);
	maker->all.from.ns -= widest_ns;
	maker->all.to.ns += widest_ns;
}

static void
set_spans(struct maker *maker)
{
	const struct sheet *sheet = maker->source->sheet;
	struct window *spans = maker->spans;
	bool line_sees_exits = maker->source->line->view == VIEW_EXIT;

	spans[SPAN_WAY] = (struct window){true, sheet->placed, sheet->left};
	for (int i = 0; i < sheet->stay_count; i++) {
		reach(&spans[SPAN_HEAT], sheet->stays[i].in);
		reach(&spans[SPAN_HEAT], sheet->stays[i].out);
		reach(&spans[SPAN_WAY], sheet->stays[i].in);
	}
	reach(&spans[SPAN_FORM], sheet->form_start);
	reach(&spans[SPAN_FORM], sheet->form_end);
	if (sheet_tool_cycle(sheet, maker->source->line->startup_after_s).known)
		reach(&spans[SPAN_FORM], sheet->last_form_end);
	for (int i = 0; line_sees_exits && i < sheet->stay_count; i++)
		join(&spans[SPAN_HEAT], sheet_exit(sheet, i));
	set_all(maker);
}

static unsigned char
span_of(enum role role)
{
	if (role == ROLE_SURFACE_TOP || role == ROLE_SURFACE_BOTTOM ||
	    role == ROLE_ZONE_TOP || role == ROLE_ZONE_BOTTOM || role == ROLE_OVEN_AIR)
		return SPAN_HEAT;
	if (role == ROLE_TOOL || role == ROLE_WATER_SUPPLY ||
	    role == ROLE_WATER_RETURN || role == ROLE_WATER_FLOW)
		return SPAN_FORM;
	return SPAN_WAY;
}

/* Measures of another side are not this sheet's; bits may well be. */
static void
set_span_of(struct maker *maker)
{
	const struct settings *settings = maker->source->settings;
	const struct roles *roles = maker->source->roles;

	for (size_t i = 0; i < settings->channel_count; i++)
		maker->span_of[i] =
		    settings->channels[i].role <= ROLE_RECIPE ? SPAN_WAY : SPAN_NEVER;
	for (size_t i = 0; i < roles->set_point_count; i++)
		maker->span_of[roles->set_point[i]] = SPAN_WAY;
	for (size_t i = 0; i < roles->all_count; i++)
		maker->span_of[roles->all[i]] =
		    span_of(settings->channels[roles->all[i]].role);
}

/* Adds bytes at the end of the trace. */
static int
add_bytes(struct maker *maker, const void *bytes, size_t length)
{
	unsigned char *grown = realloc(maker->trace, maker->length + length);

	if (grown == NULL)
		return ERROR_MEMORY;
	memcpy(grown + maker->length, bytes, length);
	maker->trace = grown;
	maker->length += length;
	return 0;
}

static int
add_pack(struct maker *maker)
{
	unsigned char head[sizeof(uint64_t)], *pack;
	struct freeze freeze = freeze_into(head, sizeof(head));
	size_t length;
	uint64_t wide;
	int rc;

	if (gather_first(maker->gather) == NULL)
		return 0;
	pack = gather_pack(maker->gather, &length);
	if (pack == NULL)
		return ERROR_MEMORY;
	wide = length;
	freeze_u64(&freeze, &wide);
	rc = add_bytes(maker, head, freeze.length);
	if (rc == 0)
		rc = add_bytes(maker, pack, length);
	free(pack);
	return rc;
}

/* Whether the scan lies in the channel's span. */
static bool
is_within(const struct maker *maker, const struct scan *scan, uint32_t channel)
{
	struct window span = maker->spans[maker->span_of[channel]];
	int64_t margin = margin_ns(&maker->source->settings->channels[channel]);

	return span.known && scan->sent.ns >= span.from.ns - margin &&
	       scan->at.ns <= span.to.ns + margin;
}

/* Finds out which channels of the scan are kept, with each its fault bit; whether any is. */
static bool
find_kept(struct maker *maker, const struct scan *scan)
{
	const struct settings *settings = maker->source->settings;
	uint32_t first = scanned_first(settings, scan);
	bool any = false;

	for (uint32_t i = 0; i < scan->count; i++)
		maker->kept[first + i] = is_within(maker, scan, first + i);
	for (uint32_t i = 0; i < scan->count; i++) {
		int32_t bit = settings->channels[first + i].fault_channel;

		if (!is_within(maker, scan, first + i))
			continue;
		any = true;
		if (bit >= 0)
			maker->kept[bit] = true;
	}
	return any;
}

/* Keeps what lies within its span. */
static int
keep_scan(void *arg, const struct scan *scan)
{
	struct maker *maker = arg;
	uint32_t first = scanned_first(maker->source->settings, scan);
	struct scan *copy;

	if (!find_kept(maker, scan))
		return 0;
	copy = gather_add(maker->gather, scan);
	if (copy == NULL) {
		int rc = add_pack(maker);

		if (rc != 0)
			return rc;
		copy = gather_add(maker->gather, scan);
	}
	if (copy == NULL)
		return ERROR_MEMORY;
	copy->wall.ns = copy->at.ns + maker->label_ns;
	for (uint32_t i = 0; i < copy->count; i++)
		if (!maker->kept[first + i])
			copy->readings[i] =
			    (struct reading){.value = NAN, .quality = QUALITY_STALE};
	return 0;
}

static int
add_sheet(struct maker *maker)
{
	unsigned char bytes[SHEET_ROOM] = {VERSION};
	struct sheet sheet = *maker->source->sheet;
	struct freeze freeze = freeze_into(bytes + 1, sizeof(bytes) - 1);

	freeze_sheet(&freeze, &sheet);
	return freeze.failed ? ERROR_INVALID
	                     : add_bytes(maker, bytes, 1 + freeze.length);
}

unsigned char *
trace_make(const struct feature_source *source, size_t *byte_count)
{
	const struct sheet *sheet = source->sheet;
	struct maker maker = {.source = source,
	    .label_ns = sheet->left_wall.ns - sheet->left.ns,
	    .span_of = calloc(source->settings->channel_count + 1, 1),
	    .kept = calloc(source->settings->channel_count + 1, sizeof(bool)),
	    .gather = gather_new()};
	bool made = maker.span_of != NULL && maker.kept != NULL && maker.gather != NULL;

	if (made) {
		set_spans(&maker);
		set_span_of(&maker);
		made = add_sheet(&maker) == 0 &&
		       history_scans(source->history, maker.all.from, maker.all.to,
			   keep_scan, &maker) == 0 &&
		       add_pack(&maker) == 0;
	}
	gather_free(maker.gather);
	free(maker.span_of);
	free(maker.kept);
	if (!made) {
		free(maker.trace);
		return NULL;
	}
	*byte_count = maker.length;
	return maker.trace;
}

/* --- reading -------------------------------------------------------------------------- */

static int
no_trace(struct error *error)
{
	return error_set(
	    error, ERROR_INVALID, "the bytes are no whole trace of a shot");
}

/* Thaws the sheet; `rest` is left before the packs. */
static int
read_sheet(const void *bytes, size_t byte_count, struct sheet *sheet,
    struct freeze *rest, struct error *error)
{
	const unsigned char *first = bytes;
	struct sheet thawed = {0};

	if (byte_count == 0)
		return no_trace(error);
	if (first[0] != VERSION)
		return error_set(
		    error, ERROR_INVALID, "a trace in a form that is not known");
	*rest = freeze_from(first + 1, byte_count - 1);
	freeze_sheet(rest, &thawed);
	if (rest->failed)
		return no_trace(error);
	*sheet = thawed;
	return 0;
}

int
trace_sheet(
    const void *bytes, size_t byte_count, struct sheet *sheet, struct error *error)
{
	struct freeze rest;

	return read_sheet(bytes, byte_count, sheet, &rest, error);
}

/* The packs, one behind the other. */
static int
read_packs(struct freeze *rest, const struct pack_reader *reader, struct reading *held,
    struct error *error)
{
	int rc = 0;

	while (rc == 0 && rest->length < rest->room) {
		uint64_t length;

		freeze_u64(rest, &length);
		if (rest->failed || length > rest->room - rest->length)
			return no_trace(error);
		rc = pack_read_on(
		    rest->bytes + rest->length, length, reader, held, error);
		rest->length += length;
	}
	return rc;
}

int
trace_scans(const void *bytes, size_t byte_count, const struct pack_reader *reader,
    struct error *error)
{
	struct sheet sheet;
	struct freeze rest = {.failed = true};
	struct reading *held;
	int rc = read_sheet(bytes, byte_count, &sheet, &rest, error);

	if (rc != 0)
		return rc;
	held = pack_held_new(reader->wanted);
	rc = held == NULL ? error_set(error, ERROR_MEMORY, "out of memory")
	                  : read_packs(&rest, reader, held, error);
	free(held);
	return rc;
}
