/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/wording/study_picture.h"

#include <math.h>

static double
shown(const struct study_picture *from, double value)
{
	return isfinite(value) ? from->shown(from->of, value) : NAN;
}

/* From where the values or the distribution begin to where they end. */
static void
make_curve(struct study_picture *from, struct run_picture *what)
{
	const struct study *study = from->study;
	const struct fit fit = study_distribution(study);
	double low = fmin(study->described.min, fit.quantiles.x00135),
	       high = fmax(study->described.max, fit.quantiles.x99865),
	       scale = (shown(from, high) - shown(from, low)) / (high - low);

	for (size_t i = 0; i < STUDY_CURVE; i++) {
		double at = low + (high - low) * (double)i / (STUDY_CURVE - 1);
		double density = family_density(fit.family, fit.parameters, at);
		from->curve_at[i] = shown(from, at);
		from->curve_density[i] = isfinite(density) ? density / scale : 0;
	}
	what->curve_at = from->curve_at;
	what->curve_density = from->curve_density;
	what->curve_count = STUDY_CURVE;
	what->curve_name = family_table[fit.family].name;
}

void
study_picture_fill(struct study_picture *from, struct run_picture *what)
{
	const struct study *study = from->study;
	const struct control_limits *control = &study->individuals;

	study_picture_strip(what);
	what->lower = shown(from, study->lower);
	what->upper = shown(from, study->upper);
	what->target = shown(from, study->target);
	if (study->described.n >= STABILITY_LEAST) {
		bool none = study->zero_bounded && control->low < 0;
		what->control_low = none ? NAN : shown(from, control->low);
		what->centre = shown(from, control->centre);
		what->control_high = shown(from, control->high);
	}
	if (study_has_distribution(study))
		make_curve(from, what);
}

void
study_picture_strip(struct run_picture *what)
{
	what->control_low = what->centre = what->control_high = NAN;
	what->curve_at = what->curve_density = NULL;
	what->curve_count = 0;
	what->curve_name = NULL;
}

/* Signals are sorted by their slots, which count from 1. */
static bool
has_signal(const struct signals *signals, size_t slot)
{
	size_t low = 0, high = signals->count;

	while (low < high) {
		size_t middle = low + (high - low) / 2;
		if (signals->list[middle].slot < slot)
			low = middle + 1;
		else
			high = middle;
	}
	return low < signals->count && signals->list[low].slot == slot;
}

bool
study_picture_is_signal(const struct study *study, size_t i)
{
	size_t size = study->subgroups.size ? study->subgroups.size : 1;

	return i % size == 0 && has_signal(&study->signals, i / size + 1);
}
