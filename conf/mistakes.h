/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Where the parts of the reader put what is wrong with a configuration.
 * For one thread; only within conf/.
 */
#ifndef CONF_MISTAKES_H
#define CONF_MISTAKES_H

struct problems;

struct mistakes {
	const char *path; /* as it is to be shown; lent */
	struct problems *problems;
	int file; /* which of several: those of the first are told first */
};

/* The list stays in the order of lines (those of one line: as found); past its end
 * the last lines give way.  Line 0: the file as a whole. */
void mistakes_add(struct mistakes *mistakes, int line, const char *format, ...)
    __attribute__((format(printf, 3, 4)));

#endif
