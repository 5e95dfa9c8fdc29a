/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Why a feature of some shots cannot be held against that of a reference run: its definition,
 * a sensor that it rests on, a calibration or the material's properties became another.
 */
#ifndef CLI_COMMAND_COMPARE_BASIS_H
#define CLI_COMMAND_COMPARE_BASIS_H

#include "cli/command/found_basis.h"
#include "cli/command/reference_known.h"

struct error;

enum { COMPARE_REASON = 600, COMPARE_SETUPS = 64 };

/* The set-ups that the shots were made under, each once. */
struct compare_setups {
	int64_t list[COMPARE_SETUPS];
	size_t count;
	bool more; /* than are kept */
};
void compare_setups_add(struct compare_setups *setups, int64_t setup);

struct compare_basis;

struct compare_basis_asked {
	const struct session *session;
	int line;
	const struct reference_known *reference;
	const struct compare_setups *setups;
	struct wall last;                /* when the last of the shots was made */
	const struct found_basis *found; /* what core figures were computed with */
};

/* NULL with the error.  Everything asked for is lent until compare_basis_free. */
struct compare_basis *compare_basis_new(
    const struct compare_basis_asked *asked, struct error *error);
void compare_basis_free(struct compare_basis *basis);

/* "" when nothing stands against it; else what changed, and when.  0, or the error. */
int compare_basis_reason(struct compare_basis *basis, int feature,
    char reason[static COMPARE_REASON], struct error *error);

#endif
