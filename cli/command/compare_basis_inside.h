/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The inside of struct compare_basis; for compare_basis*.c alone. */
#ifndef CLI_COMMAND_COMPARE_BASIS_INSIDE_H
#define CLI_COMMAND_COMPARE_BASIS_INSIDE_H

#include "cli/command/calibrate_state.h"
#include "cli/command/compare_basis.h"
#include "cli/command/filed_setups.h"

enum { DATE = sizeof "2026-03-02" };

struct compare_basis {
	struct compare_basis_asked asked;
	struct filed_setups *filed;
	struct ledger_setup *setups; /* of the ledger, the oldest first */
	size_t setup_count;
	struct ledger_definition *definitions;
	size_t definition_count;
	struct calibrate_change *calibrated; /* by channel of the session's set-up */
	bool failed;
};

/* "2026-03-02", local. */
void compare_basis_date(struct wall at, char date[static DATE]);

/* Whether the calibration of a sensor that the feature rests on stands against it, or what it
 * is computed with: then `reason` says so. */
bool compare_basis_calibrations(
    const struct compare_basis *basis, int feature, char reason[static COMPARE_REASON]);
bool compare_basis_properties(
    struct compare_basis *basis, int feature, char reason[static COMPARE_REASON]);

#endif
