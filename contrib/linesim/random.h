/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Pseudo-random numbers that are the same on every run: xoshiro256** 1.0, its
 * state filled by splitmix64 (D. Blackman, S. Vigna, "Scrambled linear
 * pseudorandom number generators", ACM TOMS 47(4), 2021; both in the public domain).
 *
 * Each quantity that must not depend on another has a generator (a stream) of its
 * own.  One object belongs to one thread.
 */
#ifndef CONTRIB_LINESIM_RANDOM_H
#define CONTRIB_LINESIM_RANDOM_H

#include <stdint.h>

struct random {
	uint64_t state[4];
};

/* Streams of one seed do not repeat each other. */
void random_init(struct random *random, uint64_t seed, uint64_t stream);

uint64_t random_next(struct random *random);

/* 0 <= value < 1. */
double random_uniform(struct random *random);

/* Mean 0, deviation 1 (Marsaglia's polar method). */
double random_normal(struct random *random);

/* One step of splitmix64, for filling states. */
uint64_t random_splitmix(uint64_t *state);

#endif
