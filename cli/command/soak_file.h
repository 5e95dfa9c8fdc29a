/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Readings of a sheet from a CSV file: t_s, top_c, bottom_c (one face may be missing) and,
 * of an instrumented sheet, inside_c.  A column top_f, bottom_f, inside_f is in F.
 */
#ifndef CLI_COMMAND_SOAK_FILE_H
#define CLI_COMMAND_SOAK_FILE_H

#include "cli/command/command.h"

#include <stddef.h>

/* A heat is no longer: what lasts for days has its times in another unit. */
#define SOAK_LONGEST_S 21600.0

/* A reading this far from both neighbours, on the same side of them and with so little
 * time between those, is of no sheet: these are centimetres thick at most and in an oven.
 * Common practice, no source. */
#define SOAK_SPIKE_DC 30.0
#define SOAK_SPIKE_S 10.0

/* A face that has risen by the first, fallen back to a quarter of that and risen again by
 * half of it was heated twice.  Common practice, no source. */
#define SOAK_HEATED_DC 30.0
#define SOAK_FALLEN 0.25
#define SOAK_AGAIN 0.5

/* Readings of one place, ascending; the arrays are its own. */
struct soak_side {
	size_t count;
	double *s, *c;
	int *line;    /* of the file; 0: between two of them */
	double gap_s; /* of a face after soak_file_cut: the longest without a reading */
};

struct soak_file {
	const char *name; /* for people; lent */
	struct soak_side top, bottom, inside;
	double from_s, to_s; /* the first and the last reading of a face */
};

/* Fills `file` (soak_file_release, also after a failure) from `path`, "-" the standard
 * input; `inside`: that column must be there.  COMMAND_CANNOT after telling every mistake,
 * no heating in it among them. */
enum command_exit soak_file_read(
    struct soak_file *file, const struct call *call, const char *path, bool inside);
void soak_file_release(struct soak_file *file);

/* Leaves of both faces what was read up to `end_s`, with a point there where readings lie
 * around it. */
void soak_file_cut(struct soak_file *file, double end_s);

/* Readings that jump; *first is the first of them. */
size_t soak_side_spikes(const struct soak_side *side, size_t *first);

/* Whether it was heated twice: the first heat's highest reading, and the lowest before the
 * second.  Readings that jump do not count. */
bool soak_side_twice(const struct soak_side *side, size_t *high, size_t *low);

#endif
