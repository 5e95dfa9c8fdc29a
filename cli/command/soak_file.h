/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Readings of a sheet from a CSV file: t_s, top_c, bottom_c (one face may be missing) and,
 * of an instrumented sheet, inside_c.
 */
#ifndef CLI_COMMAND_SOAK_FILE_H
#define CLI_COMMAND_SOAK_FILE_H

#include "cli/command/command.h"

#include <stddef.h>

/* A heat is no longer: what lasts for days has its times in another unit. */
#define SOAK_LONGEST_S 21600.0

/* Readings of one place, ascending; `s` and `c` are its own. */
struct soak_side {
	size_t count;
	double *s, *c;
	double gap_s; /* of a face after soak_file_cut: the longest without a reading */
};

struct soak_file {
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

#endif
