/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/shot_way.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "cli/command/course.h"
#include "cli/command/shot_causes.h"
#include "cli/wording/shown.h"
#include "cli/command/timeline.h"
#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/shot/pack.h"
#include "daemon/shot/scanned.h"
#include "daemon/shot/trace.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { BAR = 40 };

static struct cell
seconds(double value_s, int digits)
{
	return isnan(value_s) ? cell_absent("") : cell_number(value_s, digits);
}

/* --- steps ------------------------------------------------------------------------------ */

/* Where the step lies on the whole way; an instant is a stroke. */
static void
draw_bar(const struct timeline *timeline, const struct step *step, char bar[BAR + 1])
{
	double from_s = NAN, to_s = NAN;

	bar[0] = '\0';
	for (size_t i = 0; i < timeline->count; i++) {
		const struct step *one = &timeline->steps[i];
		from_s = fmin(from_s, one->after_s);
		to_s = fmax(to_s, one->after_s);
		to_s = fmax(to_s, one->after_s + one->lasts_s);
	}
	if (isnan(step->after_s) || !(to_s > from_s))
		return;
	double a_column = (to_s - from_s) / BAR;
	int first = (int)((step->after_s - from_s) / a_column);
	int last = isnan(step->lasts_s)
	               ? first
	               : (int)((step->after_s + step->lasts_s - from_s) / a_column) - 1;
	first = first < BAR ? first : BAR - 1;
	last = last < first ? first : last < BAR ? last : BAR - 1;
	memset(bar, ' ', (size_t)first);
	for (int i = first; i <= last; i++)
		bar[i] = isnan(step->lasts_s) ? '|' : '=';
	bar[last + 1] = '\0';
}

static void
put_steps(struct page *page, const struct timeline *timeline)
{
	static const struct column columns[] = {
	    {"step", "step", 0},
	    {"at", "at", 0},
	    {"after_heat_start_s", "after s", 0},
	    {"lasts_s", "lasts s", 0},
	    {"within_s", "+- s", 0},
	    {NULL, " ", 0},
	};

	page_table(page, "way", "Its way (after s: after the heat began)", columns,
	    COUNT(columns));
	for (size_t i = 0; i < timeline->count; i++) {
		const struct step *step = &timeline->steps[i];
		char bar[BAR + 1];
		draw_bar(timeline, step, bar);
		const struct cell cells[] = {
		    cell_words(step->name),
		    cell_time(step->at),
		    seconds(step->after_s, 1),
		    seconds(step->lasts_s, 1),
		    seconds(step->within_s, 2),
		    cell_words(bar),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

/* --- course ------------------------------------------------------------------------------ */

static struct cell
known(const struct settings *settings, enum dimension dimension, double value_si)
{
	return isnan(value_si) ? cell_absent("")
	                       : shown_channel(settings, dimension, value_si);
}

static void
put_course(struct page *page, const struct settings *settings,
    const struct course *course, const struct timeline *timeline)
{
	const char *unit = unit_text(settings->temperature);
	char titles[5][16], heading[96];
	static const char *const words[] = {"top", "bottom", "tool", "spread", "rise"};
	const struct column columns[] = {
	    {"after_s", "after s", 0},
	    {"step", "step", 0},
	    {"top_c", titles[0], 0},
	    {"bottom_c", titles[1], 0},
	    {"output_ratio", "output %", 0},
	    {"tool_mean_c", titles[2], 0},
	    {"tool_spread_dc", titles[3], 0},
	    {"water_rise_dc", titles[4], 0},
	};

	for (size_t i = 0; i < COUNT(words); i++)
		snprintf(titles[i], sizeof titles[i], "%s %s", words[i], unit);
	snprintf(heading, sizeof heading, "Its course (after s: after the %s)",
	    course->zero);
	page_table(page, "course", heading, columns, COUNT(columns));
	for (size_t i = 0; i < course->count; i++) {
		const struct course_row *row = &course->rows[i];
		const struct step *step = timeline_at(timeline, row->after_s);
		const struct cell cells[] = {
		    cell_number(row->after_s, 0),
		    step ? cell_words(step->name) : cell_absent(""),
		    known(settings, DIMENSION_TEMPERATURE, row->top_c),
		    known(settings, DIMENSION_TEMPERATURE, row->bottom_c),
		    known(settings, DIMENSION_RATIO, row->output),
		    known(settings, DIMENSION_TEMPERATURE, row->tool_c),
		    known(settings, DIMENSION_TEMPERATURE_DIFFERENCE, row->spread_dc),
		    known(settings, DIMENSION_TEMPERATURE_DIFFERENCE, row->rise_dc),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}

/* --- readings ---------------------------------------------------------------------------- */

struct readings {
	struct page *page; /* NULL: only count them */
	const struct settings *settings;
	struct mono zero;
	struct shot_causes *causes;
	int64_t count;
};

static int
take_scan(void *arg, const struct scan *scan)
{
	struct readings *readings = arg;
	const struct settings *settings = readings->settings;
	uint32_t first = scanned_first(settings, scan);

	shot_causes_add(readings->causes, scan);
	for (uint32_t i = 0; i < scan->count; i++) {
		const struct channel_settings *channel = &settings->channels[first + i];
		const struct reading *reading = &scan->readings[i];
		if (reading->quality == QUALITY_STALE)
			continue;
		readings->count++;
		if (!readings->page)
			continue;
		const struct cell cells[] = {
		    cell_time(scan->wall),
		    cell_number((double)(scan->at.ns - readings->zero.ns) / 1e9, 3),
		    cell_words(settings->devices[scan->device].name),
		    cell_words(channel->name),
		    reading->quality == QUALITY_GOOD ? cell_number(reading->value, 3)
						     : cell_absent(NULL),
		    cell_words(unit_si_text(channel->dimension)),
		    cell_words(quality_text(reading->quality)),
		};
		page_row(readings->page, cells);
	}
	return 0;
}

/* A row a scan and channel, for machines: there are thousands. */
static int
put_readings(struct page *page, const struct kept *kept, const struct course *course,
    bool wanted, struct error *error)
{
	static const struct column columns[] = {
	    {"at", NULL, 0},
	    {"after_s", NULL, 0},
	    {"device", NULL, 0},
	    {"channel", NULL, 0},
	    {"value", NULL, 0},
	    {"unit", NULL, 0},
	    {"quality", NULL, 0},
	};
	struct readings readings = {.page = wanted ? page : NULL,
	    .settings = kept->made,
	    .zero = course->zero_at,
	    .causes = shot_causes_new(kept->made)};

	if (!readings.causes)
		return error_set(error, ERROR_MEMORY, "out of memory");
	if (wanted)
		page_table(page, "trace", NULL, columns, COUNT(columns));
	struct pack_reader reader = {kept->taken, kept->made, take_scan, &readings};
	int code = trace_scans(kept->bytes, kept->byte_count, &reader, error);
	if (wanted)
		page_table_end(page);
	if (code == 0)
		page_note(page, NULL, TONE_FAINT,
		    "%" PRId64 " readings are kept of it%s", readings.count,
		    wanted ? ": say --format csv or json to have them"
			   : "; --trace gives them all");
	if (code == 0)
		shot_causes_put(readings.causes, page);
	shot_causes_free(readings.causes);
	return code;
}

/* --- all of it ------------------------------------------------------------------------------ */

static int
put_traced(struct page *page, const struct shot_way *way, const struct kept *kept,
    struct error *error)
{
	int line = settings_find_line(kept->made, way->shot->line);
	struct course *course = &(struct course){0};
	struct timeline timeline;
	int code;

	if (line < 0)
		return error_set(error, ERROR_INVALID, "its set-up has no line '%s'",
		    way->shot->line);
	timeline_of_sheet(&timeline, &kept->sheet, &kept->made->lines[line]);
	put_steps(page, &timeline);
	code = course_read(course, kept, (uint32_t)line,
	    kept_side(&kept->made->lines[line], way->shot), error);
	if (code != 0)
		return code;
	put_course(page, way->session->settings, course, &timeline);
	return put_readings(page, kept, course, way->readings, error);
}

static int
put_kept(struct page *page, const struct shot_way *way, struct filed_setups *setups,
    struct error *error)
{
	struct kept kept;
	struct error trouble;
	int code = kept_read(&kept, way->session->ledger, setups, way->shot, &trouble);

	if (code == 0 && kept.bytes)
		code = put_traced(page, way, &kept, &trouble);
	if (code == 0 && !kept.bytes) {
		struct timeline timeline;
		timeline_of_shot(&timeline, way->shot);
		put_steps(page, &timeline);
		page_note(page, NULL, TONE_FAINT, "no trace is kept of it");
	}
	page_field(page, "trace_bytes", NULL, cell_count((int64_t)kept.byte_count));
	kept_release(&kept);
	if (code == ERROR_INVALID) {
		page_note(page, "trace_trouble", TONE_BAD,
		    "its trace cannot be read: %s", trouble.text);
		return 0;
	}
	return code == 0 ? 0
	                 : error_set(error, (enum error_code)code, "%s", trouble.text);
}

int
shot_way_put(struct page *page, const struct shot_way *way, struct error *error)
{
	struct filed_setups *setups = filed_setups_new(way->session->ledger);

	if (!setups)
		return error_set(error, ERROR_MEMORY, "out of memory");
	int code = put_kept(page, way, setups, error);
	filed_setups_free(setups);
	return code;
}
