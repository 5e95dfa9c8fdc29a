/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Work that falls into pieces, in as many processes as there are processors.
 */
#ifndef TESTS_PHYSICS_WORKERS_H
#define TESTS_PHYSICS_WORKERS_H

#include <stddef.h>

struct workers_job {
	int count;    /* pieces */
	size_t bytes; /* of the result of one */
	/* In a process of its own: writes the result of piece `i`. */
	void (*work)(void *arg, int i, void *result);
	/* In this one, in their order. */
	void (*take)(void *arg, int i, const void *result);
	void *arg;
};

/* Exits when a process cannot be had or one of them fails. */
void workers_run(const struct workers_job *job);

#endif
