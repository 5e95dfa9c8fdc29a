/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The program that [notify] names: whether it may be run.  Whoever can write the file, or
 * put another in its place, can have his own run in the service's name: so it and the
 * folders that lead to it belong to root or to the user of the service, and nobody else may
 * write them.
 * Any thread; looks at the disk.
 */
#ifndef CONF_PROGRAM_FILE_H
#define CONF_PROGRAM_FILE_H

#include <stdbool.h>

struct draft;
struct error;

enum program_verdict {
	PROGRAM_GOOD,
	PROGRAM_DOUBTED, /* the service's user may see it differently */
	PROGRAM_WRONG,
};

/*
 * Of an absolute path; but for PROGRAM_GOOD with the sentence in `error`.  `own`: this
 * process is the one that is to run it, and then nothing is doubted.
 */
enum program_verdict program_file_judge(
    const char *path, bool own, struct error *error);

/* Refuses what can never be such a path.  What is on the disk is not looked at: a program
 * that is gone stops no logger, and no report.  Only within conf/. */
void program_file_check_draft(struct draft *draft);

#endif
