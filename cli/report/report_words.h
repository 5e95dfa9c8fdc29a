/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a characteristic did, in words with its figures and shot numbers.  Pure. */
#ifndef CLI_REPORT_REPORT_WORDS_H
#define CLI_REPORT_REPORT_WORDS_H

#include "cli/population/judgement.h"

enum {
	REPORT_FIGURE = 48,
	REPORT_SHORT = 128,
	REPORT_ONSET = 400,
	REPORT_WORDS = 2400
};

/* "362.1 F", "-" */
void report_words_value(const struct settings *settings, int feature, double value,
    char words[static REPORT_FIGURE]);

/* "0.56 F": a deviation or a difference. */
void report_words_deviation(const struct settings *settings, int feature, double value,
    char words[static REPORT_FIGURE]);

/* "drifted from shot 87 on", "stepped at shot 87"; "" where nothing can be told.  `numbers`
 * are the shots' of the series. */
void report_words_onset_short(const struct judged *judged, const int64_t *numbers,
    char words[static REPORT_SHORT]);

/* The same with bounds and figures: "it drifted from shot 87 on (between 80 and 95, 95 %),
 * from 362.1 F to 359.0 F". */
void report_words_onset(const struct settings *settings, const struct judged *judged,
    const int64_t *numbers, char words[static REPORT_ONSET]);

/* Why the verdict is what it is, with all of that: what follows "sag_s: not established: ". */
void report_words_why(const struct settings *settings, const struct judged *judged,
    const int64_t *numbers, char words[static REPORT_WORDS]);

/* In a few words, for a list of names: "drifted from shot 87 on", "too few values". */
void report_words_why_short(const struct judged *judged, const int64_t *numbers,
    char words[static REPORT_SHORT]);

#endif
