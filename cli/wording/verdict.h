/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why an index is not quoted, as a sentence.  Pure; any thread. */
#ifndef CLI_WORDING_VERDICT_H
#define CLI_WORDING_VERDICT_H

#include "cli/page/page.h"
#include "cli/stats/capability.h"

enum { VERDICT_SENTENCE = 240, VERDICT_FIGURE = 64 };

/* "" when it may be quoted. */
void verdict_sentence(const struct capability *capability,
    enum capability_verdict verdict, char sentence[static VERDICT_SENTENCE]);

/*
 * An index for people and machines: machines always get the number; people get
 * "1.33 (1.17 to 1.49)", "1.33 (too dependent)" where the interval is NAN, or "too few",
 * "withheld".  `figure` must live until the cell is written.
 */
struct cell verdict_cell(double value, struct interval interval,
    enum capability_verdict verdict, char figure[static VERDICT_FIGURE]);

#endif
