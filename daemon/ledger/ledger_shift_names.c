/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What the figures of a shift are called: in the ledger, and in the stores. */
#include "daemon/ledger/ledger_shift.h"

const char *
ledger_shift_sum_name(enum ledger_shift_sum sum)
{
	static const char *const names[LEDGER_SHIFT_SUMS] = {
	    [LEDGER_SHIFT_SHOTS] = "shots",
	    [LEDGER_SHIFT_OUTSIDE] = "outside",
	    [LEDGER_SHIFT_CYCLE_S] = "cycle_s",
	    [LEDGER_SHIFT_OVEN_KWH] = "oven_kwh",
	    [LEDGER_SHIFT_HEAT_REMOVED_KWH] = "heat_removed_kwh",
	    [LEDGER_SHIFT_GAP_S] = "gap_s",
	    [LEDGER_SHIFT_LENGTH_S] = "length_s",
	    [LEDGER_SHIFT_FINDINGS] = "findings",
	    [LEDGER_SHIFT_CAPABLE] = "capable",
	    [LEDGER_SHIFT_NOT_CAPABLE] = "not_capable",
	    [LEDGER_SHIFT_NOT_ESTABLISHED] = "not_established",
	};

	if (sum >= LEDGER_SHIFT_OUTCOME && sum < LEDGER_SHIFT_OUTSIDE)
		return shot_outcome_text(
		    (enum shot_outcome)(sum - LEDGER_SHIFT_OUTCOME));
	return names[sum];
}

const char *
ledger_shift_figure_name(enum ledger_shift_figure figure)
{
	static const char *const names[LEDGER_SHIFT_FIGURES] = {"lots", "n", "mean",
	    "sd", "cp", "cpk", "cpk_low", "cpk_high", "pp", "ppk", "ppk_low",
	    "ppk_high", "lower", "upper", "target", "outside", "stable", "verdict"};

	return names[figure];
}
