/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/stats/numerics.h"

#include <gsl/gsl_errno.h>

void
numerics_start(void)
{
	gsl_set_error_handler_off();
}
