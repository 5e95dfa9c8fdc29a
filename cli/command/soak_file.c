/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/soak_file.h"

#include <math.h>
#include <stdlib.h>
#include <string.h>

#include "cli/csv/csv_column.h"
#include "cli/command/session.h"
#include "daemon/base/error.h"
#include "daemon/base/unit.h"

/* The columns, in the order in which they are wanted. */
enum { TIME, TOP, BOTTOM, TOP_F, BOTTOM_F, INSIDE, INSIDE_F, WANTED };

/* Of the column in C, or else of that in F. */
static bool
take_side(
    struct soak_side *side, const struct csv_columns *columns, size_t in_c, size_t in_f)
{
	bool f = !columns->values[in_c];
	const double *values = columns->values[f ? in_f : in_c];

	/* one more, for the end of the heat between two readings */
	side->s = calloc(columns->count + 1, sizeof *side->s);
	side->c = calloc(columns->count + 1, sizeof *side->c);
	side->line = calloc(columns->count + 1, sizeof *side->line);
	if (!side->s || !side->c || !side->line)
		return false;
	for (size_t i = 0; values && i < columns->count; i++) {
		if (isnan(values[i]))
			continue;
		side->s[side->count] = columns->values[TIME][i];
		side->c[side->count] =
		    f ? unit_to_si(UNIT_FAHRENHEIT, DIMENSION_TEMPERATURE, values[i])
		      : values[i];
		side->line[side->count++] = columns->line[i];
	}
	return true;
}

static void
release_side(struct soak_side *side)
{
	free(side->s);
	free(side->c);
	free(side->line);
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

	if (take_side(&file->top, columns, TOP, TOP_F) &&
	    take_side(&file->bottom, columns, BOTTOM, BOTTOM_F) &&
	    take_side(&file->inside, columns, INSIDE, INSIDE_F))
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
		    "'bottom_c' (in F: 'top_f', 'bottom_f') at two times or more",
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
	const struct csv_wanted wanted[WANTED] = {
	    [TIME] = {"t_s", true, true, true, -1e11, 1e11, NULL},
	    [TOP] = {"top_c", false, false, false, -60, 600, "top_f"},
	    [BOTTOM] = {"bottom_c", false, false, false, -60, 600, "bottom_f"},
	    [TOP_F] = {"top_f", false, false, false, -76, 1112, NULL},
	    [BOTTOM_F] = {"bottom_f", false, false, false, -76, 1112, NULL},
	    [INSIDE] = {"inside_c", inside, false, false, -60, 600, "inside_f"},
	    [INSIDE_F] = {"inside_f", false, false, false, -76, 1112, NULL},
	};
	struct problems *problems = calloc(1, sizeof *problems);
	struct csv_columns columns = {0};
	enum command_exit code = COMMAND_CANNOT;
	struct error error;

	*file = (struct soak_file){
	    .name = strcmp(path, "-") == 0 ? "standard input" : path};
	if (!problems) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	if (csv_columns_read(
		&columns, path, stdin, wanted, inside ? WANTED : INSIDE, problems))
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
		side->line[count] = 0;
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

static bool
is_spike(const struct soak_side *side, size_t i)
{
	if (i == 0 || i + 1 >= side->count)
		return false;
	double from = side->c[i] - side->c[i - 1], to = side->c[i] - side->c[i + 1];

	return from * to > 0 && fabs(from) > SOAK_SPIKE_DC &&
	       fabs(to) > SOAK_SPIKE_DC &&
	       side->s[i + 1] - side->s[i - 1] <= SOAK_SPIKE_S;
}

size_t
soak_side_spikes(const struct soak_side *side, size_t *first)
{
	size_t count = 0;

	for (size_t i = 0; i < side->count; i++)
		if (is_spike(side, i) && count++ == 0)
			*first = i;
	return count;
}

bool
soak_side_twice(const struct soak_side *side, size_t *high, size_t *low)
{
	bool fallen = false;

	*high = *low = 0;
	for (size_t i = 1; i < side->count; i++) {
		double rise_dc = side->c[*high] - side->c[0];
		if (is_spike(side, i))
			continue;
		if (fallen && side->c[i] - side->c[*low] > SOAK_AGAIN * rise_dc)
			return true;
		if (fallen && side->c[i] < side->c[*low])
			*low = i;
		if (!fallen && side->c[i] >= side->c[*high])
			*high = i;
		else if (!fallen && rise_dc > SOAK_HEATED_DC &&
			 side->c[i] - side->c[0] < SOAK_FALLEN * rise_dc) {
			fallen = true;
			*low = i;
		}
	}
	return false;
}
