/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Why shots are held, in words with their numbers.  Pure. */
#ifndef CLI_REPORT_REPORT_HOLD_WORDS_H
#define CLI_REPORT_REPORT_HOLD_WORDS_H

#include "cli/population/suspect.h"

struct text;

/* Whether two reasons are told together: the same but for the shot. */
bool report_hold_words_alike(const struct suspects *suspects,
    const struct suspect_reason *a, const struct suspect_reason *b);

/* "exit_top_c above its upper limit", "sag_s unknown (stale)", "no record". */
enum { REPORT_HOLD_WORDS = 320 };
void report_hold_words(const struct suspects *suspects,
    const struct suspect_reason *reason, char words[static REPORT_HOLD_WORDS]);

/* Adds the numbers of all reasons of the run that are like this one: "71-75, 80". */
bool report_hold_words_numbers(const struct suspects *suspects,
    const struct suspect_run *run, const struct suspect_reason *like,
    struct text *text);

/* Adds the lots of its shots: "A-0412, A-0413". */
void report_hold_words_lots(
    const struct suspects *suspects, const struct suspect_run *run, struct text *text);

#endif
