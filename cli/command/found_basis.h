/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the figures of shots and of a reference run were computed with: calibrations, a
 * material's properties, the sheet's thickness.  Where that is not the same the figures
 * that rest on it cannot be held against each other.
 */
#ifndef CLI_COMMAND_FOUND_BASIS_H
#define CLI_COMMAND_FOUND_BASIS_H

#include "cli/command/calibrate_state.h"
#include "cli/command/found_series.h"
#include "cli/command/session.h"

struct error;

enum { BASIS_TEXT = 256, FOUND_REMARK = 400 };

struct found_basis {
	/* Channels whose correction is another than in the reference's shots; "". */
	char calibrated_since[CALIBRATE_WORDS];
	/* Sets of properties: of the reference's shots as they were frozen, of these. */
	char properties_then[BASIS_TEXT], properties_now[BASIS_TEXT];
	/* Thickness computed with, as "6.35 mm". */
	char thickness_then[BASIS_TEXT], thickness_now[BASIS_TEXT];
	size_t not_compared; /* shots whose core figures are not */
};

/* Shots that are held against a reference. */
struct found_held {
	const struct reference_known *reference;
	const struct found_series *frozen; /* its shots */
	struct found_series *series;
	size_t last; /* of the series: the last one that is asked about */
};

/*
 * Reads it, and takes the core figures out of the shots of the series that were computed
 * otherwise than the reference's: of other properties, or of a thickness that was another
 * for the same lot.
 */
int found_basis_read(struct found_basis *basis, const struct session *session, int line,
    const struct found_held *held, struct error *error);

/* Takes back what is surer than what the finding rests on, with the reason; tells what is
 * entered of a lot. */
int found_basis_remark(const struct found_basis *basis, const struct session *session,
    const struct found_series *series, struct finding *finding,
    char remark[static FOUND_REMARK], struct error *error);

#endif
