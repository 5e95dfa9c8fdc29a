/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Whether a characteristic moved over weeks, in words with its slope and interval.  Pure. */
#ifndef CLI_REPORT_REPORT_TREND_WORDS_H
#define CLI_REPORT_REPORT_TREND_WORDS_H

#include "cli/population/trend.h"

enum { REPORT_TREND_WORDS = 600 };

/* A sentence on its mean, and one on its Ppk (where it has limits). */
void report_trend_words_mean(const struct settings *settings,
    const struct trend_course *course, char words[static REPORT_TREND_WORDS]);
void report_trend_words_ppk(
    const struct trend_course *course, char words[static REPORT_TREND_WORDS]);

/* "rises", "falls", "none_shown", "too_few", for machines. */
const char *report_trend_words_verdict(const struct slope *slope);

#endif
