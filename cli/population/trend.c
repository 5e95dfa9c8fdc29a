/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/trend.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/population/judgement.h"
#include "cli/stats/sort.h"
#include "conf/shift.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define WEEK_NS (7.0 * 86400 * (double)CLOCK_SECOND_NS)
#define NORMAL_975 1.959963984540054 /* quantile of the normal distribution */
#define STEP_P 0.05                  /* a step by chance is rarer where one is told */

/* --- shifts ------------------------------------------------------------------------------ */

static int
no_memory(struct error *error)
{
	return error_set(error, ERROR_MEMORY, "out of memory: say a shorter time");
}

static void
set_shift(struct trend_shift *point, const struct settings *settings, struct wall at)
{
	struct shift_span span;

	if (shift_at(settings, at, &span)) {
		text_copy(point->shift, sizeof point->shift, span.shift->name);
		point->date = span.date;
		point->from = span.from;
		point->to = span.to;
		return;
	}
	point->shift[0] = '\0';
	point->date = calendar_date_of(at);
	point->from = calendar_local(point->date, 0);
	point->to = calendar_local(calendar_date_add(point->date, 1), 0);
}

/* Whether the shot still belongs to the point: a day may hold shifts in its middle. */
static bool
is_of(const struct trend_shift *point, const struct settings *settings, struct wall at)
{
	struct shift_span span;

	if (at.ns < point->from.ns || at.ns >= point->to.ns)
		return false;
	return *point->shift || !shift_at(settings, at, &span);
}

/* A view of rows first ... first + count - 1. */
static void
view(struct trend_shift *point, const struct population *whole, size_t first,
    size_t count)
{
	size_t width = whole->features->count;

	point->shots = *whole;
	point->shots.complete.list = whole->complete.list + first;
	point->shots.complete.count = count;
	point->shots.filed_at = whole->filed_at + first;
	point->shots.values = whole->values + first * width;
	point->shots.absent = whole->absent + first * width;
	point->shots.first = whole->filed_at[first];
	point->shots.last = whole->filed_at[first + count - 1];
	point->shots.shots = (int64_t)count;
}

static struct trend_kind *
find_kind(struct trend *trend, const struct population *population)
{
	for (size_t i = 0; i < trend->count; i++)
		if (strcmp(trend->kinds[i].recipe, population->recipe) == 0 &&
		    strcmp(trend->kinds[i].tool, population->tool) == 0)
			return &trend->kinds[i];
	struct trend_kind *kinds =
	    reallocarray(trend->kinds, trend->count + 1, sizeof *kinds);
	if (!kinds)
		return NULL;
	trend->kinds = kinds;
	kinds[trend->count] =
	    (struct trend_kind){.recipe = population->recipe, .tool = population->tool};
	return &kinds[trend->count++];
}

static struct trend_shift *
add_point(struct trend_kind *kind)
{
	struct trend_shift *points =
	    reallocarray(kind->points, kind->count + 1, sizeof *points);

	if (!points)
		return NULL;
	kind->points = points;
	points[kind->count] = (struct trend_shift){0};
	return &points[kind->count++];
}

static bool
part(struct trend *trend, const struct settings *settings,
    const struct population *population)
{
	struct trend_kind *kind = find_kind(trend, population);
	size_t rows = population->complete.count;

	for (size_t first = 0, next; kind && first < rows; first = next) {
		struct trend_shift *point = add_point(kind);
		if (!point)
			return false;
		set_shift(point, settings, population->filed_at[first]);
		next = first + 1;
		while (
		    next < rows && is_of(point, settings, population->filed_at[next]))
			next++;
		view(point, population, first, next - first);
	}
	return kind != NULL;
}

static int
compare_points(const void *a, const void *b)
{
	const struct trend_shift *x = a, *y = b;
	int64_t at_x = x->shots.first.ns, at_y = y->shots.first.ns;

	return (at_x > at_y) - (at_x < at_y);
}

static int
compare_kinds(const void *a, const void *b)
{
	const struct trend_kind *x = a, *y = b;

	return compare_points(x->points, y->points);
}

int
trend_make(struct trend *trend, const struct settings *settings,
    const struct populations *populations, struct error *error)
{
	*trend = (struct trend){0};
	for (size_t i = 0; i < populations->count; i++)
		if (populations->list[i].complete.count > 0 &&
		    !part(trend, settings, &populations->list[i]))
			return no_memory(error);
	for (size_t i = 0; i < trend->count; i++)
		if (trend->kinds[i].count > 1)
			qsort(trend->kinds[i].points, trend->kinds[i].count,
			    sizeof *trend->kinds[i].points, compare_points);
	if (trend->count > 1)
		qsort(trend->kinds, trend->count, sizeof *trend->kinds, compare_kinds);
	return 0;
}

void
trend_release(struct trend *trend)
{
	for (size_t i = 0; i < trend->count; i++)
		free(trend->kinds[i].points);
	free(trend->kinds);
	*trend = (struct trend){0};
}

bool
trend_kind_choose(
    struct trend_kind *chosen, const struct trend_kind *kind, const char *shift)
{
	*chosen = *kind;
	chosen->count = 0;
	chosen->points = calloc(kind->count + 1, sizeof *chosen->points);
	for (size_t i = 0; chosen->points && i < kind->count; i++)
		if (!shift || strcmp(kind->points[i].shift, shift) == 0)
			chosen->points[chosen->count++] = kind->points[i];
	return chosen->points != NULL;
}

struct wall
trend_middle(const struct trend_shift *point)
{
	int64_t first = point->shots.first.ns, last = point->shots.last.ns;

	return (struct wall){first + (last - first) / 2};
}

/* --- a characteristic ----------------------------------------------------------------------- */

static struct study *
study_point(const struct trend_shift *point, const struct trend_course *course,
    double *values, bool *breaks)
{
	population_series(&point->shots, course->feature, values, breaks);
	return judgement_study(&(struct judgement_asked){
	    .series = {values, breaks, point->shots.complete.count},
	    .feature = course->feature,
	    .lower = course->lower,
	    .upper = course->upper,
	    .target = NAN,
	});
}

static struct slope_point
mean_point(const struct study *study, double at)
{
	double n = study->c.n_effective;
	bool counts = study->described.n >= TREND_LEAST;

	if (!(n >= 1))
		n = (double)study->described.n;
	return (struct slope_point){at, counts ? study->described.mean : NAN,
	    study->described.sd * study->described.sd / n};
}

static struct slope_point
ppk_point(const struct study *study, double at)
{
	const struct study_shown shown = study_shown(study);
	double half = (shown.high - shown.low) / 2 / NORMAL_975;

	return (struct slope_point){
	    at, shown.quotable ? shown.index : NAN, half * half};
}

/* The uncertainty of an index grows with the index itself: by its own estimate, high ones
 * would count for too little.  All get that of the mean of them, in the form that Bissell's
 * interval has (see capability.h). */
static void
level_variances(struct slope_point *points, size_t count)
{
	double sum = 0, n = 0;

	for (size_t i = 0; i < count; i++)
		if (isfinite(points[i].value) && isfinite(points[i].variance)) {
			sum += points[i].value;
			n++;
		}
	double mean = sum / n;
	for (size_t i = 0; i < count; i++)
		points[i].variance *= (1.0 / 9 + mean * mean / 2) /
		                      (1.0 / 9 + points[i].value * points[i].value / 2);
}

/* That all shifts are alike is what a step is held against: each counts by its number of values
 * and the deviation that most have.  By its own, the shift in which a step happened, whose mean
 * is the less certain for it, would hide it. */
static bool
even_variances(
    struct slope_point *points, const struct trend_course *course, size_t count)
{
	double *each = calloc(count + 1, sizeof *each);
	size_t n = 0;

	if (!each)
		return false;
	for (size_t i = 0; i < count; i++)
		if (isfinite(points[i].value) && points[i].variance > 0)
			each[n++] = points[i].variance *
			            (double)course->studies[i]->described.n;
	sort_values(each, n);
	for (size_t i = 0; n > 0 && i < count; i++)
		points[i].variance =
		    each[(n - 1) / 2] / (double)course->studies[i]->described.n;
	free(each);
	return true;
}

static double
weeks_to(const struct trend_kind *kind, size_t i)
{
	return (double)(trend_middle(&kind->points[i]).ns -
			trend_middle(&kind->points[0]).ns) /
	       WEEK_NS;
}

static bool
find_slopes(struct trend_course *course, const struct trend_kind *kind)
{
	struct slope_point *points = calloc(2 * kind->count + 1, sizeof *points);
	struct slope_point *ppk = points ? points + kind->count : NULL;

	for (size_t i = 0; points && i < kind->count; i++) {
		double at = weeks_to(kind, i);
		points[i] = mean_point(course->studies[i], at);
		ppk[i] = ppk_point(course->studies[i], at);
	}
	if (points)
		level_variances(ppk, kind->count);
	course->weeks = kind->count > 0 ? weeks_to(kind, kind->count - 1) : 0;
	bool done = points && slope_of(points, kind->count, &course->mean) &&
	            even_variances(points, course, kind->count) &&
	            step_of(points, kind->count, &course->mean_step) &&
	            slope_of(ppk, kind->count, &course->ppk);
	free(points);
	return done;
}

static bool
study_all(struct trend_course *course, const struct trend_kind *kind)
{
	size_t most = 0;

	for (size_t i = 0; i < kind->count; i++)
		if (kind->points[i].shots.complete.count > most)
			most = kind->points[i].shots.complete.count;
	double *values = calloc(most + 1, sizeof *values);
	bool *breaks = calloc(most + 1, sizeof *breaks);
	course->studies = calloc(kind->count + 1, sizeof(struct study *));
	bool done = values && breaks && course->studies;
	for (size_t i = 0; done && i < kind->count; i++) {
		course->studies[i] =
		    study_point(&kind->points[i], course, values, breaks);
		course->count++;
		done = course->studies[i] != NULL;
	}
	free(values);
	free(breaks);
	return done;
}

struct trend_course *
trend_course_new(
    const struct trend_kind *kind, int feature, const struct limit_settings *limit)
{
	struct trend_course *course = calloc(1, sizeof *course);

	if (!course)
		return NULL;
	course->feature = feature;
	judgement_limits(limit, feature, &course->lower, &course->upper);
	if (study_all(course, kind) && find_slopes(course, kind))
		return course;
	trend_course_free(course);
	return NULL;
}

void
trend_course_free(struct trend_course *course)
{
	for (size_t i = 0; course && i < course->count; i++)
		study_free(course->studies[i]);
	if (course)
		free(course->studies);
	free(course);
}

int
trend_direction(const struct slope *slope)
{
	if (slope->slope_95.low > 0)
		return 1;
	return slope->slope_95.high < 0 ? -1 : 0;
}

enum trend_move
trend_move(const struct trend_course *course)
{
	const struct step *step = &course->mean_step;
	bool line = trend_direction(&course->mean) != 0;

	if (step->p < STEP_P && (step->over_line || !line))
		return TREND_MOVE_STEP;
	if (line)
		return TREND_MOVE_LINE;
	return isnan(step->p) ? TREND_MOVE_UNKNOWN : TREND_MOVE_NONE;
}

struct trend_tally
trend_tally(const struct trend_course *course, size_t first, size_t end)
{
	struct trend_tally tally = {.points = end - first};

	for (size_t i = first; i < end; i++) {
		const struct study *study = course->studies[i];
		tally.capable += study->verdict == STUDY_CAPABLE;
		tally.not_capable += study->verdict == STUDY_NOT_CAPABLE;
		tally.shots += study->described.n;
		tally.outside += study->observed_below + study->observed_above;
	}
	return tally;
}
