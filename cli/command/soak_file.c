/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/soak_file.h"

#include <math.h>
#include <stdlib.h>

#include "cli/command/csv_column.h"
#include "cli/command/session.h"
#include "daemon/base/error.h"

static bool
take_side(struct soak_side *side, const struct csv_columns *columns, size_t column)
{
	/* one more, for the end of the heat between two readings */
	side->s = calloc(columns->count + 1, sizeof *side->s);
	side->c = calloc(columns->count + 1, sizeof *side->c);
	if (!side->s || !side->c)
		return false;
	side->count = csv_columns_series(columns, column, side->s, side->c);
	return true;
}

static void
release_side(struct soak_side *side)
{
	free(side->s);
	free(side->c);
	*side = (struct soak_side){0};
}

void
soak_file_release(struct soak_file *file)
{
	release_side(&file->top);
	release_side(&file->bottom);
	release_side(&file->inside);
}

static enum command_exit
take_sides(
    struct soak_file *file, const struct call *call, const struct csv_columns *columns)
{
	struct error error;

	if (take_side(&file->top, columns, 1) && take_side(&file->bottom, columns, 2) &&
	    take_side(&file->inside, columns, 3))
		return COMMAND_DONE;
	error_set(&error, ERROR_MEMORY, "out of memory");
	return command_cannot(call, &error);
}

/* Of a file's readings of its faces. */
static enum command_exit
find_span(
    struct soak_file *file, const struct call *call, const char *path, bool inside)
{
	const struct soak_side *sides[] = {&file->top, &file->bottom};
	struct error error;

	file->from_s = INFINITY;
	file->to_s = -INFINITY;
	for (int i = 0; i < 2; i++) {
		if (sides[i]->count == 0)
			continue;
		file->from_s = fmin(file->from_s, sides[i]->s[0]);
		file->to_s = fmax(file->to_s, sides[i]->s[sides[i]->count - 1]);
	}
	if (!(file->from_s < file->to_s) || (inside && file->inside.count == 0)) {
		error_set(&error, ERROR_INVALID,
		    "'%s' has no heating in it: it needs readings in %s'top_c' or "
		    "'bottom_c' at two times or more",
		    path, inside ? "'inside_c', and in " : "");
		return command_cannot(call, &error);
	}
	if (file->to_s - file->from_s > SOAK_LONGEST_S) {
		error_set(&error, ERROR_INVALID,
		    "'%s' is %.0f s long, longer than %.0f s: is 't_s' in another "
		    "unit, or more than one heat in it?",
		    path, file->to_s - file->from_s, SOAK_LONGEST_S);
		return command_cannot(call, &error);
	}
	return COMMAND_DONE;
}

enum command_exit
soak_file_read(
    struct soak_file *file, const struct call *call, const char *path, bool inside)
{
	const struct csv_wanted wanted[] = {
	    {"t_s", true, true, true, -1e11, 1e11},
	    {"top_c", false, false, false, -60, 600},
	    {"bottom_c", false, false, false, -60, 600},
	    {"inside_c", inside, false, false, -60, 600},
	};
	struct problems *problems = calloc(1, sizeof *problems);
	struct csv_columns columns = {0};
	enum command_exit code = COMMAND_CANNOT;
	struct error error;

	*file = (struct soak_file){0};
	if (!problems) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	if (csv_columns_read(&columns, path, stdin, wanted, inside ? 4 : 3, problems))
		code = take_sides(file, call, &columns);
	else
		session_tell_problems(call, problems);
	csv_columns_release(&columns);
	free(problems);
	return code == COMMAND_DONE ? find_span(file, call, path, inside) : code;
}

static void
cut_side(struct soak_side *side, double end_s)
{
	size_t count = side->count;

	while (count > 0 && side->s[count - 1] > end_s)
		count--;
	if (count < side->count && count > 0 && side->s[count - 1] < end_s) {
		double part = (end_s - side->s[count - 1]) /
		              (side->s[count] - side->s[count - 1]);
		side->c[count] =
		    side->c[count - 1] + part * (side->c[count] - side->c[count - 1]);
		side->s[count++] = end_s;
	}
	side->count = count;
}

static void
find_gap(struct soak_side *side, double from_s, double end_s)
{
	double before = from_s;

	side->gap_s = 0;
	if (side->count == 0)
		return;
	for (size_t i = 0; i < side->count; i++) {
		side->gap_s = fmax(side->gap_s, side->s[i] - before);
		before = side->s[i];
	}
	side->gap_s = fmax(side->gap_s, end_s - before);
}

void
soak_file_cut(struct soak_file *file, double end_s)
{
	file->to_s = end_s;
	cut_side(&file->top, end_s);
	cut_side(&file->bottom, end_s);
	find_gap(&file->top, file->from_s, end_s);
	find_gap(&file->bottom, file->from_s, end_s);
}
