/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/root.h"

#include <gsl/gsl_errno.h>
#include <gsl/gsl_roots.h>
#include <math.h>
#include <stdbool.h>

enum { STEPS_MOST = 200, WIDENINGS_MOST = 60 };

/* GSL takes nothing that is no number (numerics.h): so it is given a number, and what was found
 * is thrown away. */
struct guarded {
	const struct root_function *function;
	int failed;
};

static double
guarded_value(double x, void *params)
{
	struct guarded *guarded = params;
	double value = guarded->function->value(x, guarded->function->context);

	if (isfinite(value))
		return value;
	guarded->failed = 1;
	return 0;
}

double
root_between(const struct root_function *function, double low, double high)
{
	struct guarded guarded = {.function = function};
	gsl_function target = {guarded_value, &guarded};
	double at_low = guarded_value(low, &guarded);
	double at_high = guarded_value(high, &guarded);
	double root = NAN;

	if (guarded.failed || !(low <= high) || !isfinite(low) || !isfinite(high))
		return NAN;
	if (!(fabs(at_low) > 0))
		return low;
	if (!(fabs(at_high) > 0))
		return high;
	if ((at_low > 0) == (at_high > 0))
		return NAN;

	gsl_root_fsolver *solver = gsl_root_fsolver_alloc(gsl_root_fsolver_brent);
	if (!solver)
		return NAN;
	gsl_root_fsolver_set(solver, &target, low, high);
	for (int step = 0; step < STEPS_MOST && !guarded.failed; step++) {
		if (gsl_root_fsolver_iterate(solver) != GSL_SUCCESS)
			break;
		root = gsl_root_fsolver_root(solver);
		double width =
		    gsl_root_fsolver_x_upper(solver) - gsl_root_fsolver_x_lower(solver);
		if (fabs(width) <= 1e-14 * fabs(root))
			break;
	}
	gsl_root_fsolver_free(solver);
	return guarded.failed ? NAN : root;
}

double
root_near(const struct root_function *function, double guess)
{
	double low = guess, high = guess;

	if (!(guess > 0) || !isfinite(guess))
		return NAN;
	bool positive = function->value(guess, function->context) > 0;
	for (int i = 0; i < WIDENINGS_MOST; i++) {
		double next_low = low / 2, next_high = high * 2;
		if ((function->value(next_low, function->context) > 0) != positive)
			return root_between(function, next_low, low);
		if ((function->value(next_high, function->context) > 0) != positive)
			return root_between(function, high, next_high);
		low = next_low;
		high = next_high;
	}
	return NAN;
}
