/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/soak_drawing.h"

#include <math.h>
#include <stdlib.h>

#include "cli/picture/soak_picture.h"

enum { MOMENTS = 12, MOMENTS_WANTED = 8, POINTS = 1000 };

/* All in the unit that is shown; times from the first reading on. */
struct drawn {
	size_t moment_count;
	double moment_s[MOMENTS];
	double profile[MOMENTS * SOAK_NODES];
	size_t count;
	double *s, *top, *core, *bottom;
};

static double
shown(enum unit unit, double c)
{
	return isnan(c) ? NAN : unit_from_si(unit, DIMENSION_TEMPERATURE, c);
}

static void
add_moment(
    struct drawn *drawn, const struct soak_course *course, enum unit unit, double s)
{
	double c[SOAK_NODES];

	if (drawn->moment_count == MOMENTS)
		return;
	soak_course_at(course, s, c);
	for (int i = 0; i < SOAK_NODES; i++)
		drawn->profile[drawn->moment_count * SOAK_NODES + (size_t)i] =
		    shown(unit, c[i]);
	drawn->moment_s[drawn->moment_count++] = s - course->s[0];
}

/* Round numbers of seconds after the start, the end of the heat, and the form. */
static void
choose_moments(struct drawn *drawn, const struct soak_input *input,
    const struct soak_course *course, enum unit unit)
{
	static const double steps_s[] = {
	    0.1, 0.2, 0.5, 1, 2, 5, 10, 20, 30, 60, 120, 300, 600, 1200, 1800, 3600};
	double length_s = input->heat_end_s - input->file.from_s;
	double step_s = length_s / MOMENTS_WANTED;

	for (size_t i = 0; i < sizeof steps_s / sizeof steps_s[0]; i++)
		if (steps_s[i] * MOMENTS_WANTED >= length_s * 0.95) {
			step_s = steps_s[i];
			break;
		}
	for (int i = 0; i * step_s < length_s - step_s / 4; i++)
		add_moment(drawn, course, unit, input->file.from_s + i * step_s);
	add_moment(drawn, course, unit, input->heat_end_s);
	if (input->end_s > input->heat_end_s)
		add_moment(drawn, course, unit, input->end_s);
}

/* No more points than can be seen, the corner at the end of the heat among them. */
static bool
copy_course(struct drawn *drawn, const struct soak_input *input,
    const struct soak_course *course, enum unit unit)
{
	size_t stride = course->count / POINTS + 1;
	double *room = calloc(4 * course->count, sizeof *room);

	if (!room)
		return false;
	drawn->s = room;
	drawn->top = room + course->count;
	drawn->core = room + 2 * course->count;
	drawn->bottom = room + 3 * course->count;
	for (size_t i = 0; i < course->count; i++) {
		const double *c = course->c[i];
		if (i % stride != 0 && i + 1 < course->count &&
		    fabs(course->s[i] - input->heat_end_s) > 1e-6)
			continue;
		drawn->s[drawn->count] = course->s[i] - course->s[0];
		drawn->top[drawn->count] = shown(unit, c[0]);
		drawn->core[drawn->count] = shown(unit, c[SOAK_NODES / 2]);
		drawn->bottom[drawn->count++] = shown(unit, c[SOAK_NODES - 1]);
	}
	return true;
}

void
soak_drawing_put(const struct soak_input *input, const struct soak_course *course,
    const struct soak_result *result, const struct soak_words *words, enum unit unit,
    struct page *page)
{
	size_t last = input->soak.stretch_count - 1;
	double core_c = result->state[last].core_c, half = result->band[last].core_dc;
	struct drawn *drawn = calloc(1, sizeof *drawn);

	if (drawn && copy_course(drawn, input, course, unit)) {
		choose_moments(drawn, input, course, unit);
		const struct soak_picture what = {
		    .title = words->sheet,
		    .summary = words->core,
		    .caution = "An estimate, to compare sheets and settings by: no "
			       "part is released on it alone.",
		    .unit = unit_text(unit),
		    .thickness_mm = input->soak.thickness_m * 1000,
		    .moment_count = drawn->moment_count,
		    .node_count = SOAK_NODES,
		    .moment_s = drawn->moment_s,
		    .profile = drawn->profile,
		    .count = drawn->count,
		    .s = drawn->s,
		    .top = input->file.top.count > 0 ? drawn->top : NULL,
		    .core = drawn->core,
		    .bottom = input->file.bottom.count > 0 ? drawn->bottom : NULL,
		    .heat_end_s = input->heat_end_s - course->s[0],
		    .core_low = shown(unit, core_c - half),
		    .core_high = shown(unit, core_c + half),
		    .window_low = shown(
			unit, input->material ? input->material->form_low_c : NAN),
		    .window_high = shown(
			unit, input->material ? input->material->form_high_c : NAN),
		};
		const struct picture picture = soak_picture_make(&what, "sheet");
		page_picture(page, &picture, NULL);
	} else {
		page_fail(page);
	}
	if (drawn)
		free(drawn->s);
	free(drawn);
}
