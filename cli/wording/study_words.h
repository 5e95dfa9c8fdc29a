/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A capability study in words that an auditor accepts: what is said of it, and why.  Pure;
 * any thread.
 */
#ifndef CLI_WORDING_STUDY_WORDS_H
#define CLI_WORDING_STUDY_WORDS_H

#include "cli/stats/study.h"

enum { STUDY_WORDS = 1200, STUDY_REASON_WORDS = 300 };

/* "capable", "not capable", "not established". */
const char *study_words_verdict(enum study_verdict verdict);

/* For machines: "capable", "not_capable", "not_established". */
const char *study_words_verdict_name(enum study_verdict verdict);

/* For machines: "too_few", "unstable" ... */
const char *study_words_reason_name(enum study_reason reason);

/* For machines: "stable", "unstable", "too_few", "no_variation". */
const char *study_words_stability_name(enum stability_verdict verdict);

/* One reason as a part of a sentence: "too few values: 12, at least 25 are needed". */
void study_words_reason(const struct study *study, enum study_reason reason,
    char words[static STUDY_REASON_WORDS]);

/* All reasons of a set, with "; " between them; "" for none. */
void study_words_reasons(
    const struct study *study, unsigned reasons, char words[static STUDY_WORDS]);

/* Those of its reasons that a verdict rests on, without what withholds Cpk alone. */
unsigned study_words_decisive(const struct study *study);

/* Its bounds hold in about 95 %: they are those of a fit or of values that depend on each other, or
 * the values are not normal. */
bool study_words_approximate(const struct study *study);

/* None of the values lies within the limits. */
bool study_words_all_beyond(const struct study *study);

/* What the verdict rests on, whichever it is: "stable over 153 values; Ppk 1.92, at least
 * 1.75 where 1.33 is required". */
void study_words_why(const struct study *study, char words[static STUDY_WORDS]);

/* What became of a series that is not stable: "a step", "a drift", "a change of scatter",
 * "single values that stand out"; "" for none. */
const char *study_words_onset(enum onset_kind kind);

/* The distribution whose index is quoted: "normal", "half-normal" ...; NULL where a
 * zero-bounded characteristic has none. */
const char *study_words_distribution(const struct study *study);

#endif
