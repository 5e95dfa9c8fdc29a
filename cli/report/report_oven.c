/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/report/report_oven.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "cli/picture/oven_picture.h"
#include "cli/population/zones.h"
#include "cli/report/report_picture.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum {
	BANKS_MOST = 4 * SETTINGS_STATIONS,
	BANK_HEADING = 3 * SETTINGS_NAME,
	LABEL = 12
};

/* The zones of a line in the order of their banks, with what was read of them. */
struct plan {
	const struct report_line *line;
	const struct zones *now, *then; /* then->shots 0: no reference */
	size_t *channels;               /* of the settings */
	size_t count;
	struct oven_zone *zones;
	char (*labels)[LABEL];
	struct oven_bank banks[BANKS_MOST];
	char headings[BANKS_MOST][BANK_HEADING];
	size_t bank_count;
};

/* --- which zones there are ---------------------------------------------------------------- */

static bool
is_zone(const struct report_line *line, const struct channel_settings *channel)
{
	const struct settings *settings = line->settings;

	return &settings->lines[settings->devices[channel->device].line] ==
	           line->layout &&
	       (channel->role == ROLE_ZONE_TOP || channel->role == ROLE_ZONE_BOTTOM);
}

/* Of one face of one oven and side. */
static bool
same_bank(const struct channel_settings *a, const struct channel_settings *b)
{
	return a->oven == b->oven && a->side == b->side && a->role == b->role;
}

static int
compare(const struct channel_settings *a, const struct channel_settings *b)
{
	if (a->oven != b->oven)
		return a->oven - b->oven;
	if (a->side != b->side)
		return a->side - b->side;
	if (a->role != b->role)
		return a->role == ROLE_ZONE_TOP ? -1 : 1;
	return a->position - b->position;
}

/* Few: put in where they belong. */
static void
find_zones(struct plan *plan)
{
	const struct channel_settings *all = plan->line->settings->channels;

	for (size_t i = 0; i < plan->line->settings->channel_count; i++) {
		size_t at = plan->count;
		if (!is_zone(plan->line, &all[i]))
			continue;
		while (at > 0 && compare(&all[i], &all[plan->channels[at - 1]]) < 0) {
			plan->channels[at] = plan->channels[at - 1];
			at--;
		}
		plan->channels[at] = i;
		plan->count++;
	}
}

/* "oven-a", and which of a line's sides; "" where a line has but one. */
static void
name_place(const struct line_settings *line, const struct channel_settings *channel,
    char words[static BANK_HEADING])
{
	int oven = 0;
	size_t length = 0;

	words[0] = '\0';
	for (int i = 0; i < line->station_count && line->oven_count > 1; i++)
		if (line->stations[i].kind == STATION_OVEN && oven++ == channel->oven)
			text_copy(words, BANK_HEADING, line->stations[i].name);
	length = strlen(words);
	if (channel->side >= 0 && line->side_count > 1)
		snprintf(words + length, BANK_HEADING - length, "%sside %s",
		    length ? ", " : "", line->sides[channel->side]);
}

static const char *
face_of(const struct channel_settings *channel)
{
	return channel->role == ROLE_ZONE_TOP ? "top" : "bottom";
}

/* --- the plan ---------------------------------------------------------------------------------- */

static double
difference_of(const struct plan *plan, size_t channel)
{
	return plan->then->shots > 0
	           ? plan->now->output[channel] - plan->then->output[channel]
	           : NAN;
}

static void
lay_out(struct plan *plan)
{
	const struct channel_settings *all = plan->line->settings->channels;

	for (size_t i = 0; i < plan->count; i++) {
		const struct channel_settings *channel = &all[plan->channels[i]];
		struct oven_bank *bank = &plan->banks[plan->bank_count];
		char place[BANK_HEADING];
		snprintf(plan->labels[i], LABEL, "%d", channel->position);
		plan->zones[i] = (struct oven_zone){plan->labels[i],
		    plan->now->output[plan->channels[i]],
		    difference_of(plan, plan->channels[i])};
		if (i > 0 && same_bank(channel, &all[plan->channels[i - 1]])) {
			bank[-1].zone_count++;
			continue;
		}
		if (plan->bank_count == BANKS_MOST)
			return;
		name_place(plan->line->layout, channel, place);
		snprintf(plan->headings[plan->bank_count], BANK_HEADING, "%.80s%s%s",
		    place, *place ? ", " : "", face_of(channel));
		*bank = (struct oven_bank){.heading = plan->headings[plan->bank_count],
		    .zones = &plan->zones[i],
		    .zone_count = 1};
		plan->bank_count++;
	}
}

/* The zones whose difference is largest, in words. */
static void
describe_plan(const struct plan *plan, const struct report_reference *reference,
    struct text *text)
{
	text_printf(text, "The mean outputs of %zu heater zones over %zu shots.",
	    plan->count, plan->now->shots);
	for (size_t k = 0; k < plan->bank_count; k++) {
		const struct oven_bank *bank = &plan->banks[k];
		const struct oven_zone *least = NULL, *most = NULL;
		for (size_t i = 0; i < bank->zone_count; i++) {
			const struct oven_zone *zone = &bank->zones[i];
			if (!isfinite(zone->output))
				continue;
			if (!least || zone->output < least->output)
				least = zone;
			if (!most || zone->output > most->output)
				most = zone;
		}
		if (least)
			text_printf(text,
			    " %s: from %.0f %% (zone %s) to %.0f %% (zone %s).",
			    bank->heading, 100 * least->output, least->label,
			    100 * most->output, most->label);
	}
	if (plan->then->shots == 0)
		return;
	const struct oven_zone *off = NULL;
	const char *where = "";
	for (size_t k = 0; k < plan->bank_count; k++)
		for (size_t i = 0; i < plan->banks[k].zone_count; i++) {
			const struct oven_zone *zone = &plan->banks[k].zones[i];
			if (!isfinite(zone->difference) ||
			    (off && fabs(zone->difference) <= fabs(off->difference)))
				continue;
			off = zone;
			where = plan->banks[k].heading;
		}
	if (off)
		text_printf(text,
		    " The largest difference from reference run %s is %+.1f points, at "
		    "%s, zone %s.",
		    reference->name, 100 * off->difference, where, off->label);
}

static void
put_plan(
    struct plan *plan, const struct run *run, const struct report_reference *reference)
{
	char words[LEDGER_NAME + 32], name[PICTURE_NAME];
	struct text text;

	lay_out(plan);
	text_init(&text, 1 << 16);
	describe_plan(plan, reference, &text);
	snprintf(words, sizeof words, "reference run %s", reference->name);
	report_picture_name(plan->line, run, "oven", name);
	const struct oven_picture what = {
	    .heading = "heater zones",
	    .reference = plan->then->shots > 0 ? words : NULL,
	    .banks = plan->banks,
	    .bank_count = plan->bank_count,
	};
	const struct picture picture = oven_picture_make(
	    &what, name, "the oven's zones", text.bytes ? text.bytes : "");
	page_picture(plan->line->page, &picture, NULL);
	text_release(&text);
}

static void
put_table(const struct plan *plan, const struct report_reference *reference)
{
	static const struct column columns[] = {
	    {"oven", NULL, 0},
	    {"side", NULL, 0},
	    {"face", NULL, 0},
	    {"zone", NULL, 0},
	    {"channel", NULL, 0},
	    {"output", NULL, 0},
	    {"reference_run", NULL, 0},
	    {"reference_output", NULL, 0},
	    {"difference", NULL, 0},
	};
	const struct settings *settings = plan->line->settings;
	const struct line_settings *layout = plan->line->layout;

	page_table(plan->line->page, "zones", NULL, columns, COUNT(columns));
	for (size_t i = 0; i < plan->count; i++) {
		size_t k = plan->channels[i];
		const struct channel_settings *channel = &settings->channels[k];
		bool compared = plan->then->shots > 0;
		char name[2 * SETTINGS_NAME + 1];
		snprintf(name, sizeof name, "%s.%s",
		    settings->devices[channel->device].name, channel->name);
		const struct cell cells[] = {
		    cell_count(channel->oven + 1),
		    channel->side >= 0 ? shown_name(layout->sides[channel->side])
				       : cell_absent(NULL),
		    cell_words(face_of(channel)),
		    cell_count(channel->position),
		    cell_words(name),
		    cell_number(plan->now->output[k], 3),
		    compared ? cell_words(reference->name) : cell_absent(NULL),
		    cell_number(compared ? plan->then->output[k] : NAN, 3),
		    cell_number(difference_of(plan, k), 3),
		};
		page_row(plan->line->page, cells);
	}
	page_table_end(plan->line->page);
}

/* --- reading ------------------------------------------------------------------------------------ */

static int
compare_numbers(const void *a, const void *b)
{
	const int64_t *x = a, *y = b;

	return (*x > *y) - (*x < *y);
}

static int
read_now(struct zones *zones, const struct report_line *line, const struct run *run,
    struct error *error)
{
	int64_t *numbers = calloc(run->count, sizeof *numbers);
	const struct zones_asked asked = {
	    line->line, line->from, line->to, numbers, run->count};

	if (!numbers)
		return error_set(error, ERROR_MEMORY, "out of memory");
	for (size_t i = 0; i < run->count; i++)
		numbers[i] = run_shot_no(run, i);
	qsort(numbers, run->count, sizeof *numbers, compare_numbers);
	int code = zones_read(
	    zones, line->settings, source_ledger(line->source), &asked, error);
	free(numbers);
	return code;
}

struct frozen {
	struct numbers numbers;
	struct wall from, to;
	bool failed;
};

static int
take_frozen(void *arg, const struct ledger_reference_shot *shot)
{
	struct frozen *frozen = arg;

	if (frozen->numbers.count == 0)
		frozen->from = shot->filed_at;
	frozen->to.ns = shot->filed_at.ns + 1;
	frozen->failed |= !numbers_add(&frozen->numbers, shot->shot_no);
	return frozen->failed;
}

/* Of the reference's shots as they stand in the ledger: their channels may be forgotten. */
static int
read_then(struct zones *zones, const struct report_line *line,
    const struct report_reference *reference, struct error *error)
{
	struct ledger_read *ledger = source_ledger(line->source);
	struct frozen frozen = {0};
	int code = ledger_read_reference_shots(
	    ledger, reference->id, take_frozen, &frozen, error);

	if (code == 0 && frozen.failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	if (code == 0 && frozen.numbers.count > 0) {
		qsort(frozen.numbers.list, frozen.numbers.count, sizeof(int64_t),
		    compare_numbers);
		const struct zones_asked asked = {line->line, frozen.from, frozen.to,
		    frozen.numbers.list, frozen.numbers.count};
		code = zones_read(zones, line->settings, ledger, &asked, error);
	}
	free(frozen.numbers.list);
	return code;
}

static int
put(struct plan *plan, const struct run *run, const struct report_reference *reference,
    struct error *error)
{
	const struct report_line *line = plan->line;
	size_t channels = line->settings->channel_count;

	plan->channels = calloc(channels + 1, sizeof *plan->channels);
	plan->zones = calloc(channels + 1, sizeof *plan->zones);
	plan->labels = calloc(channels + 1, sizeof *plan->labels);
	if (!plan->channels || !plan->zones || !plan->labels)
		return error_set(error, ERROR_MEMORY, "out of memory");
	find_zones(plan);
	if (plan->count == 0 || plan->now->shots == 0)
		return 0;
	put_table(plan, reference);
	if (line->pictures)
		put_plan(plan, run, reference);
	if (line->pictures && reference->id != 0 && plan->then->shots == 0)
		page_note(line->page, NULL, TONE_PLAIN,
		    "The zones' outputs of reference run %s are no longer on file: "
		    "nothing to compare with.",
		    reference->name);
	return 0;
}

int
report_oven_put(const struct report_line *line, const struct run *run,
    const struct report_reference *reference, struct error *error)
{
	struct zones now = {0}, then = {0};
	struct plan *plan = NULL;
	int code = 0;

	if (!source_ledger(line->source) || !line->layout)
		return 0;
	code = read_now(&now, line, run, error);
	if (code == 0 && reference->id != 0)
		code = read_then(&then, line, reference, error);
	if (code == 0) {
		plan = calloc(1, sizeof *plan);
		code = plan ? 0 : error_set(error, ERROR_MEMORY, "out of memory");
	}
	if (plan) {
		plan->line = line;
		plan->now = &now;
		plan->then = &then;
		code = put(plan, run, reference, error);
		free(plan->channels);
		free(plan->zones);
		free(plan->labels);
		free(plan);
	}
	zones_release(&now);
	zones_release(&then);
	return code;
}
