/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/numerics.h"

#include <gsl/gsl_errno.h>
#include <math.h>

void
numerics_start(void)
{
	gsl_set_error_handler_off();
}

double
numerics_finite(double value)
{
	return isfinite(value) ? value : NAN;
}
