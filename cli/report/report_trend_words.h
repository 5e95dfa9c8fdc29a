/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether a characteristic moved over weeks, in words with its slope and interval.  Pure. */
#ifndef CLI_REPORT_REPORT_TREND_WORDS_H
#define CLI_REPORT_REPORT_TREND_WORDS_H

#include "cli/population/trend.h"

enum { REPORT_TREND_WORDS = 600 };

/* A sentence on its mean, and one on its Ppk (where it has limits).  Slopes are told a week
 * where so much was seen, else what they come to over the time there was. */
void report_trend_words_mean(const struct settings *settings,
    const struct trend_kind *kind, const struct trend_course *course,
    char words[static REPORT_TREND_WORDS]);
void report_trend_words_ppk(
    const struct trend_course *course, char words[static REPORT_TREND_WORDS]);

/* The shifts that a step lies between: "2026-03-02 early and late". */
enum { REPORT_TREND_BETWEEN = 2 * SETTINGS_NAME + 64 };
void report_trend_words_between(const struct trend_kind *kind, const struct step *step,
    char words[static REPORT_TREND_BETWEEN]);

/* "rises", "falls", "none_shown", "too_few", for machines. */
const char *report_trend_words_verdict(const struct slope *slope);

/* "up", "down", "none_shown", "too_few": of a step that explains more than a line. */
const char *report_trend_words_step(const struct trend_course *course);

/* How much there was to see: "6.3 days". */
double report_trend_words_days(const struct trend_course *course);

#endif
