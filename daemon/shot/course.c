/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/shot/course.h"

#include "daemon/shot/track.h"

#include <assert.h>
#include <math.h>

#define END_S 10.0     /* so long before the end no hole may be ... */
#define END_HOLE_S 5.0 /* ... of over this */
#define END_POLLS 2.5  /* ... or so many polls, where that is more */
#define FIT_S 5.0      /* the end is taken from a line over this long ... */
#define FIT_POLLS 4.5  /* ... or so many polls */
#define APART_S 1e-3   /* points nearer than this are one */

static double
seconds(struct mono from, struct mono to)
{
	return (double)(to.ns - from.ns) / (double)CLOCK_SECOND_NS;
}

/* --- which sensors count ------------------------------------------------------------ */

/* Whether the readings go on to the window's end; `*good`: how many there are in it. */
static bool
goes_to_the_end(const struct course_source *source, uint32_t channel, size_t *good)
{
	double hole_s, from_s = window_s(source->window) - END_S, last_s = 0.0, value;
	struct track track;
	struct mono at;
	bool whole = true;

	*good = 0;
	track_start(&track, source->history, channel, source->window);
	hole_s = fmax(END_HOLE_S, END_POLLS * track.series.period_s);
	while (track_next(&track, &at, &value)) {
		double at_s = seconds(source->window.from, at);

		whole &= at_s <= from_s || at_s - last_s <= hole_s;
		last_s = at_s;
		(*good)++;
	}
	return whole && window_s(source->window) - last_s <= hole_s;
}

/* Puts the channels that count into `used`, the one with the most readings first; how
 * many. */
static size_t
choose(const struct course_source *source, uint32_t used[COURSE_SENSORS],
    enum absent *absent)
{
	size_t count = 0, most = 0;

	*absent = ABSENT_NOT_CONFIGURED;
	for (size_t i = 0; i < source->count; i++) {
		uint32_t channel = source->channels[i];
		struct shot_channel summary = window_summary(
		    source->history, channel, source->window, source->coverage_min);
		size_t good;
		bool to_the_end = goes_to_the_end(source, channel, &good);

		if (summary.absent != ABSENT_NOT ||
		    (source->to_the_end && !to_the_end)) {
			*absent = summary.absent != ABSENT_NOT ? summary.absent
			                                       : ABSENT_LOW_COVERAGE;
			continue;
		}
		used[count++] = channel;
		if (good > most) {
			used[count - 1] = used[0];
			used[0] = channel;
			most = good;
		}
	}
	return count;
}

/* --- their mean ---------------------------------------------------------------------- */

/* How much one sensor shows more than the first. */
struct difference {
	struct track own, base;
	struct {
		int64_t ns;
		double value;
	} left, right;
	bool any, more;
};

static void
difference_step(struct difference *d)
{
	struct mono at;
	double value;

	if (d->any)
		d->left = d->right;
	d->more = track_next(&d->own, &at, &value);
	if (!d->more)
		return;
	d->right.ns = at.ns;
	d->right.value = value - track_at(&d->base, at);
	if (!d->any)
		d->left = d->right;
	d->any = true;
}

static double
difference_at(struct difference *d, struct mono at)
{
	while (d->more && (!d->any || d->right.ns <= at.ns))
		difference_step(d);
	if (!d->more || at.ns <= d->left.ns)
		return d->left.value;
	return d->left.value + (d->right.value - d->left.value) *
	                           (double)(at.ns - d->left.ns) /
	                           (double)(d->right.ns - d->left.ns);
}

/* --- thinning ------------------------------------------------------------------------ */

struct thinner {
	double bucket_s, fit_from_s, end_s;
	struct course *course;
	size_t count; /* in the bucket at hand */
	double bucket, sum_s, sum;
	/* of the last readings, their times before the end */
	double fits, fit_s, fit_value, fit_ss, fit_sv;
};

static void
thinner_flush(struct thinner *thinner)
{
	struct course *course = thinner->course;

	if (thinner->count == 0)
		return;
	course->s[course->count] = thinner->sum_s / (double)thinner->count;
	course->value[course->count++] = thinner->sum / (double)thinner->count;
	thinner->count = 0;
	thinner->sum_s = thinner->sum = 0.0;
}

static void
thinner_take(struct thinner *thinner, double s, double value)
{
	double bucket = floor(s / thinner->bucket_s);

	if (bucket > thinner->bucket)
		thinner_flush(thinner);
	thinner->bucket = bucket;
	thinner->count++;
	thinner->sum_s += s;
	thinner->sum += value;
	if (s < thinner->fit_from_s)
		return;
	thinner->fits += 1.0;
	thinner->fit_s += s - thinner->end_s;
	thinner->fit_value += value;
	thinner->fit_ss += (s - thinner->end_s) * (s - thinner->end_s);
	thinner->fit_sv += (s - thinner->end_s) * value;
}

/* Ends the course where the line through the last readings comes to. */
static void
thinner_end(struct thinner *thinner)
{
	struct course *course = thinner->course;
	double spread =
	    thinner->fits * thinner->fit_ss - thinner->fit_s * thinner->fit_s;
	double slope;

	thinner_flush(thinner);
	if (thinner->fits < 3.0 || !(spread > 0.0) ||
	    thinner->end_s - course->s[course->count - 1] < APART_S)
		return;
	slope =
	    (thinner->fits * thinner->fit_sv - thinner->fit_s * thinner->fit_value) /
	    spread;
	course->s[course->count] = thinner->end_s;
	course->value[course->count++] =
	    (thinner->fit_value - slope * thinner->fit_s) / thinner->fits;
}

enum absent
course_make(const struct course_source *source, struct mono origin, struct mono end,
    double bucket_s, struct course *course)
{
	struct thinner thinner = {
	    .bucket_s = bucket_s, .end_s = seconds(origin, end), .course = course};
	struct difference differences[COURSE_SENSORS];
	uint32_t used[COURSE_SENSORS];
	enum absent absent;
	size_t count;
	struct track base;
	struct mono at;
	double value;

	assert(source->count <= COURSE_SENSORS);
	course->count = 0;
	count = choose(source, used, &absent);
	course->sensors = count;
	if (count == 0)
		return absent;
	for (size_t i = 1; i < count; i++) {
		differences[i] = (struct difference){.more = true};
		track_start(
		    &differences[i].own, source->history, used[i], source->window);
		track_start(
		    &differences[i].base, source->history, used[0], source->window);
	}
	track_start(&base, source->history, used[0], source->window);
	thinner.fit_from_s =
	    thinner.end_s - fmax(FIT_S, FIT_POLLS * base.series.period_s);
	while (track_next(&base, &at, &value)) {
		double more = 0.0;

		for (size_t i = 1; i < count; i++)
			more += difference_at(&differences[i], at);
		thinner_take(
		    &thinner, seconds(origin, at), value + more / (double)count);
	}
	thinner_end(&thinner);
	return ABSENT_NOT;
}
