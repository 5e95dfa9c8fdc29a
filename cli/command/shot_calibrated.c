/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shot_calibrated.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/calibrate_state.h"
#include "cli/wording/shown.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { TEXT = 160 };

static const double same = 1e-9; /* two corrections */

struct one {
	int64_t id; /* 0: none */
	struct wall at;
	double as_left;
};

struct shot_calibrated_row {
	struct one holds, then; /* now; of those entered as the record was made */
	struct wall entered;
	char by[TEXT], reference[TEXT];
};

struct reading_rows {
	struct shot_calibrated *calibrated;
	const struct session *session;
	const struct ledger_shot *shot;
};

/* A record that was made again tells when by what it was before. */
static int
take_earlier(void *arg, const struct ledger_earlier *earlier)
{
	struct wall *made = arg;

	if (earlier->until.ns > made->ns)
		*made = earlier->until;
	return 0;
}

/* The later holds, of two at one time the later entered. */
static bool
is_later(const struct ledger_calibration *row, const struct one *than)
{
	return than->id == 0 || row->at.ns > than->at.ns ||
	       (row->at.ns == than->at.ns && row->id > than->id);
}

static int
take_row(void *arg, const struct ledger_calibration *row)
{
	const struct reading_rows *reading = arg;
	const struct one one = {row->id, row->at, row->as_left};
	char name[CALIBRATE_NAME];

	snprintf(name, sizeof name, "%s.%s", row->device, row->channel);
	int64_t channel = calibrate_find(reading->session->settings, name);
	if (channel < 0 || row->at.ns > reading->shot->filed_at.ns)
		return 0;
	struct shot_calibrated_row *mine = &reading->calibrated->rows[channel];
	if (row->entered.ns <= reading->calibrated->made.ns &&
	    is_later(row, &mine->then))
		mine->then = one;
	if (!is_later(row, &mine->holds))
		return 0;
	reading->calibrated->known += mine->holds.id == 0;
	mine->holds = one;
	mine->entered = row->entered;
	text_copy(mine->by, TEXT, row->by ? row->by : "");
	text_copy(mine->reference, TEXT, row->reference ? row->reference : "");
	return 0;
}

int
shot_calibrated_read(struct shot_calibrated *calibrated, const struct session *session,
    const struct ledger_shot *shot, struct error *error)
{
	struct reading_rows reading = {calibrated, session, shot};
	size_t count = session->settings->channel_count;

	*calibrated = (struct shot_calibrated){.count = count, .made = shot->closed_at};
	calibrated->rows = calloc(count + 1, sizeof *calibrated->rows);
	if (!calibrated->rows)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code = ledger_read_earlier(
	    session->ledger, shot->id, take_earlier, &calibrated->made, error);
	return code != 0 ? code
	                 : ledger_read_calibrations(
			       session->ledger, shot->line, take_row, &reading, error);
}

void
shot_calibrated_release(struct shot_calibrated *calibrated)
{
	free(calibrated->rows);
	*calibrated = (struct shot_calibrated){0};
}

static double
left(const struct one *one)
{
	return one->id != 0 ? one->as_left : 0;
}

static bool
is_in(const struct shot_calibrated_row *row)
{
	return fabs(left(&row->holds) - left(&row->then)) < same;
}

double
shot_calibrated_correction(const struct shot_calibrated *calibrated,
    const struct session *session, const char *name)
{
	int64_t channel = calibrate_find(session->settings, name);
	double off = channel >= 0 ? left(&calibrated->rows[channel].then) : (double)NAN;

	return fabs(off) >= same ? -off : (double)NAN;
}

static void
put_row(struct page *page, const struct settings *settings, size_t channel,
    const struct shot_calibrated_row *row)
{
	enum dimension dimension = settings->channels[channel].dimension;
	enum dimension difference = dimension == DIMENSION_TEMPERATURE
	                                ? DIMENSION_TEMPERATURE_DIFFERENCE
	                                : dimension;
	struct cell in = cell_truth(is_in(row));
	char name[CALIBRATE_NAME];

	calibrate_name(settings, channel, name);
	in.instead = is_in(row) ? "yes" : "not yet: recompute";
	in.tone = is_in(row) ? TONE_PLAIN : TONE_BAD;
	const struct cell cells[] = {
	    cell_words(name),
	    shown_channel_deviation(settings, dimension, -left(&row->holds)),
	    cell_words(unit_si_text(difference)),
	    cell_words(unit_text(unit_shown(difference, settings->temperature))),
	    cell_time(row->holds.at),
	    shown_name(row->by),
	    shown_name(row->reference),
	    cell_time(row->entered),
	    in,
	};
	page_row(page, cells);
}

void
shot_calibrated_put(struct page *page, const struct shot_calibrated *calibrated,
    const struct session *session, const struct ledger_shot *shot)
{
	static const struct column columns[] = {
	    {"channel", "channel", 0},
	    {"correction", "correction", 0},
	    {"unit", NULL, 0},
	    {NULL, "unit", 0},
	    {"from", "from", 0},
	    {"by", "by", 0},
	    {"reference", "reference", 0},
	    {"entered", NULL, 0},
	    {"in_it", "in it", 0},
	};
	size_t missing = 0;

	page_table(page, "calibrations",
	    "Calibrations that hold for it: the correction is added to readings",
	    columns, COUNT(columns));
	for (size_t i = 0; i < calibrated->count; i++) {
		if (calibrated->rows[i].holds.id == 0)
			continue;
		put_row(page, session->settings, i, &calibrated->rows[i]);
		missing += !is_in(&calibrated->rows[i]);
	}
	page_table_end(page);
	if (missing > 0)
		page_note(page, NULL, TONE_BAD,
		    "entered after the record was made: to have %s in it: evensoak "
		    "recompute --line %s --shot %lld",
		    missing == 1 ? "it" : "them", shot->line, (long long)shot->shot_no);
}
