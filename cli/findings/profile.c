/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/findings/profile.h"

#include <math.h>
#include <stdlib.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* Features that fewer of the shots have than this are not learned. */
#define COVERAGE 0.5

static bool
learn_middles(struct profile *profile, const struct findings_shot **usual, size_t count)
{
	double *values = malloc(2 * count * sizeof(values[0]));

	if (!values)
		return false;
	for (int id = 0; id < FEATURE_COUNT; id++) {
		size_t there;
		for (size_t i = 0; i < count; i++)
			values[i] = usual[i]->value[id];
		double median = signal_median(values, count, values + count, &there);
		profile->middle[id] =
		    (double)there >= COVERAGE * (double)count ? median : NAN;
	}
	free(values);
	return true;
}

static bool
learn(struct profile *profile, const struct findings_shot **usual, size_t count)
{
	struct signal_values *values = malloc(count * sizeof(values[0]));

	if (!values || !learn_middles(profile, usual, count)) {
		free(values);
		return false;
	}
	for (size_t i = 0; i < count; i++)
		signal_values(profile->middle, usual[i], values + i);
	bool done = true;
	for (int signal = 0; signal < SIGNAL_COUNT && done; signal++)
		done = fit_signal(profile->fits + signal, signal, values, count);
	free(values);
	return done;
}

struct profile *
profile_new(const struct line_settings *line, const struct findings_shot *shots,
    size_t count, struct error *error)
{
	struct profile *profile = calloc(1, sizeof(*profile));
	const struct findings_shot **usual =
	    malloc((count + 1) * sizeof(const struct findings_shot *));
	size_t n = 0;

	if (!profile || !usual) {
		error_set(error, ERROR_MEMORY, "no memory for a profile");
		goto fail;
	}
	for (size_t i = 0; i < count; i++)
		if (shots[i].usual)
			usual[n++] = shots + i;
	if (n < PROFILE_SHOTS_MIN) {
		error_set(error, ERROR_INVALID,
		    "the reference has %zu shots made in the usual way, at least %d "
		    "are "
		    "needed to know what is usual",
		    n, PROFILE_SHOTS_MIN);
		goto fail;
	}
	profile->line = *line;
	text_copy(profile->lot, sizeof(profile->lot), usual[n - 1]->lot);
	if (!learn(profile, usual, n)) {
		error_set(error, ERROR_MEMORY, "no memory for a profile");
		goto fail;
	}
	free(usual);
	return profile;
fail:
	free(usual);
	free(profile);
	return NULL;
}

void
profile_free(struct profile *profile)
{
	free(profile);
}
