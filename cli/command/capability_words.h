/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What a capability study asks of whoever reads it, in sentences.  Pure; any thread. */
#ifndef CLI_COMMAND_CAPABILITY_WORDS_H
#define CLI_COMMAND_CAPABILITY_WORDS_H

#include "cli/command/capability_put.h"

enum { CAPABILITY_WORDS = 1000, CAPABILITY_FIGURE = 48 };

/* A value, and a deviation or difference, as people read them, without the unit; "-" for
 * NAN.  Digits by the scatter. */
void capability_value(const struct capability_view *view, double value,
    char words[static CAPABILITY_FIGURE]);
void capability_deviation(const struct capability_view *view, double deviation,
    char words[static CAPABILITY_FIGURE]);

/* What to do: "Look for what changed at value 57 ...". */
void capability_advice(
    const struct capability_view *view, char words[static CAPABILITY_WORDS]);

/* Single values that are not normal are judged by their normal scores: study.h. */
bool capability_by_scores(const struct study *study);

/* Whether it is stable, by what, and when it changed. */
void capability_stability_words(
    const struct capability_view *view, char words[static CAPABILITY_WORDS]);

/* "value", or "subgroup": what slots count. */
const char *capability_slot(const struct capability_view *view);

#endif
