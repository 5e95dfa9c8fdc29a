/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/soak_course.h"

#include <stdlib.h>
#include <string.h>

#include "cli/page/page.h"
#include "daemon/base/error.h"

static bool
make_room(struct soak_course *course)
{
	size_t room = course->room ? course->room * 2 : 512;

	if (course->count < course->room)
		return true;
	if (room > COURSE_PROFILES)
		return false;
	double *s = realloc(course->s, room * sizeof *s);
	if (!s)
		return false;
	course->s = s;
	double(*c)[SOAK_NODES] = realloc(course->c, room * sizeof *c);
	if (!c)
		return false;
	course->c = c;
	course->room = room;
	return true;
}

static void
keep(void *arg, double s, const double c[SOAK_NODES])
{
	struct soak_course *course = arg;

	if (course->failed || !make_room(course)) {
		course->failed = true;
		return;
	}
	course->s[course->count] = s;
	memcpy(course->c[course->count++], c, sizeof course->c[0]);
}

int
soak_course_make(
    struct soak_course *course, const struct soak_case *soak, struct error *error)
{
	const struct soak_watch watch = {keep, course};
	struct soak_result result;
	double start[SOAK_NODES];
	int code;

	*course = (struct soak_course){0};
	for (int i = 0; i < SOAK_NODES; i++)
		start[i] = soak->start_c;
	keep(course, soak->stretches[0].from_s, start);
	code = soak_follow(soak, &watch, &result, error);
	if (code == 0 && course->failed)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	return code;
}

void
soak_course_release(struct soak_course *course)
{
	free(course->s);
	free(course->c);
	*course = (struct soak_course){0};
}

void
soak_course_at(const struct soak_course *course, double s, double c[static SOAK_NODES])
{
	size_t after = 0;

	while (after < course->count && course->s[after] < s)
		after++;
	if (after == 0 || after == course->count) {
		memcpy(c, course->c[after == 0 ? 0 : after - 1], sizeof course->c[0]);
		return;
	}
	double part =
	    (s - course->s[after - 1]) / (course->s[after] - course->s[after - 1]);
	for (int i = 0; i < SOAK_NODES; i++)
		c[i] = course->c[after - 1][i] +
		       part * (course->c[after][i] - course->c[after - 1][i]);
}

double
soak_course_mean(const double c[static SOAK_NODES])
{
	double sum = (c[0] + c[SOAK_NODES - 1]) / 2;

	for (int i = 1; i < SOAK_NODES - 1; i++)
		sum += c[i];
	return sum / (SOAK_NODES - 1);
}

void
soak_course_put(const struct soak_course *course, struct page *page)
{
	static const struct column columns[] = {
	    {"t_s", NULL, 0},
	    {"surface_top_c", NULL, 0},
	    {"quarter_top_c", NULL, 0},
	    {"core_c", NULL, 0},
	    {"quarter_bottom_c", NULL, 0},
	    {"surface_bottom_c", NULL, 0},
	    {"mean_c", NULL, 0},
	};

	page_table(page, "course", NULL, columns, sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < course->count; i++) {
		const double *c = course->c[i];
		const struct cell cells[] = {
		    cell_number(course->s[i], 2),
		    cell_number(c[0], 2),
		    cell_number(c[SOAK_NODES / 4], 2),
		    cell_number(c[SOAK_NODES / 2], 2),
		    cell_number(c[SOAK_NODES - 1 - SOAK_NODES / 4], 2),
		    cell_number(c[SOAK_NODES - 1], 2),
		    cell_number(soak_course_mean(c), 2),
		};
		page_row(page, cells);
	}
	page_table_end(page);
}
