/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "contrib/linesim/random.h"

#include <math.h>

uint64_t
random_splitmix(uint64_t *state)
{
	uint64_t z = (*state += UINT64_C(0x9e3779b97f4a7c15));

	z = (z ^ (z >> 30)) * UINT64_C(0xbf58476d1ce4e5b9);
	z = (z ^ (z >> 27)) * UINT64_C(0x94d049bb133111eb);
	return z ^ (z >> 31);
}

void
random_init(struct random *random, uint64_t seed, uint64_t stream)
{
	uint64_t fill = seed;
	fill = random_splitmix(&fill) ^ (stream * UINT64_C(0x9e3779b97f4a7c15));

	for (int i = 0; i < 4; i++)
		random->state[i] = random_splitmix(&fill);
}

static uint64_t
rotate_left(uint64_t x, int bits)
{
	return (x << bits) | (x >> (64 - bits));
}

uint64_t
random_next(struct random *random)
{
	uint64_t *s = random->state;
	uint64_t result = rotate_left(s[1] * 5, 7) * 9;
	uint64_t t = s[1] << 17;

	s[2] ^= s[0];
	s[3] ^= s[1];
	s[1] ^= s[2];
	s[0] ^= s[3];
	s[2] ^= t;
	s[3] = rotate_left(s[3], 45);
	return result;
}

double
random_uniform(struct random *random)
{
	return (double)(random_next(random) >> 11) * 0x1.0p-53;
}

double
random_normal(struct random *random)
{
	double u, v, square;

	do {
		u = 2 * random_uniform(random) - 1;
		v = 2 * random_uniform(random) - 1;
		square = u * u + v * v;
	} while (square >= 1 || square <= 0);
	return u * sqrt(-2 * log(square) / square);
}
