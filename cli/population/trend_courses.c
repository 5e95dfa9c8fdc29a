/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/population/trend_courses.h"

#include <stdlib.h>

#include "daemon/base/error.h"

static bool
add(struct trend_courses *courses, int feature, const struct limit_settings *limit)
{
	struct trend_course **list = reallocarray(
	    courses->list, courses->count + 1, sizeof(struct trend_course *));

	if (!list)
		return false;
	courses->list = list;
	list[courses->count] = trend_course_new(&courses->kind, feature, limit);
	return list[courses->count++] != NULL;
}

int
trend_courses_make(struct trend_courses *courses,
    const struct trend_courses_asked *asked, struct error *error)
{
	const struct trend_kind *kind = &asked->trend->kinds[asked->kind];
	int recipe = population_recipe(kind->recipe);

	*courses = (struct trend_courses){.line = asked->line, .trend = asked->trend};
	bool done = trend_kind_choose(&courses->kind, kind, asked->shift);
	for (int id = 0; id < FEATURE_COUNT && done && courses->kind.count > 0; id++) {
		const struct limit_settings *limit =
		    settings_limit(asked->settings, id, recipe, kind->tool);
		if (asked->feature >= 0 ? id == asked->feature : limit != NULL)
			done = add(courses, id, limit);
	}
	return done ? 0 : error_set(error, ERROR_MEMORY, "out of memory");
}

void
trend_courses_release(struct trend_courses *courses)
{
	for (size_t i = 0; i < courses->count; i++)
		trend_course_free(courses->list[i]);
	free(courses->list);
	free(courses->kind.points);
	*courses = (struct trend_courses){0};
}
