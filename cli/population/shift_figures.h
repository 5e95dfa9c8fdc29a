/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What is filed of a shift that has ended: its shots, judged as a report judges them, in as
 * many numbers as a row has.  One thread.
 *
 * A capability is of one lot.  Where a shift had several of one recipe and tool, n, mean, sd
 * and what lay outside are of all of them; the indices are those of the lot with the lowest
 * Ppk, and none where that of any lot is withheld; Cp and Cpk are told where those of every
 * lot may be quoted.  The verdict is the worst, and stable is what all were.
 */
#ifndef CLI_POPULATION_SHIFT_FIGURES_H
#define CLI_POPULATION_SHIFT_FIGURES_H

#include "conf/settings.h"
#include "daemon/ledger/ledger_shift.h"

struct error;
struct source;

/* Without the sums that no shot tells: gap and findings are NAN. */
struct shift_figures {
	struct ledger_shift shift; /* its rows are these */
	struct ledger_shift_row *rows;
	size_t count, room;
};

struct shift_figures_asked {
	const char *line, *shift; /* names */
	struct wall from, to;
};

/* 0 or the source's error.  Release in either case. */
int shift_figures_make(struct shift_figures *figures, const struct settings *settings,
    struct source *source, const struct shift_figures_asked *asked,
    struct error *error);
void shift_figures_release(struct shift_figures *figures);

#endif
