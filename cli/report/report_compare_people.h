/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What people read of a comparison.  For report_compare.c alone. */
#ifndef CLI_REPORT_REPORT_COMPARE_PEOPLE_H
#define CLI_REPORT_REPORT_COMPARE_PEOPLE_H

#include "cli/report/report_compare.h"

enum { REPORT_COMPARE_WORDS = 900 };

bool report_compare_limited(const struct comparison *one);

/* How many more shots would settle what is open, and what a run of shots cannot: what follows
 * "3 open, since ...". */
void report_compare_needed(
    const struct report_compare *report, char words[static REPORT_COMPARE_WORDS]);

/* "water_flow_2 changed during this time, from shot 103 on", the farthest first. */
void report_compare_changed(
    const struct report_compare *report, char words[static REPORT_COMPARE_WORDS]);

/* It is open, and the shots are not steady among themselves. */
bool report_compare_unsteady(const struct comparison *one);

/* "a step", "another scatter", "wandered" */
const char *report_compare_how(const struct comparison_changed *changed);

/* A mean, or a deviation where that is what changed; absent where nothing has. */
struct cell report_compare_change_cell(
    const struct settings *settings, const struct comparison *one, double value);

/* A table of what changed during the time. */
void report_compare_put_changed(struct page *page, const struct report_compare *report);

/* A table of what is different, one of the other characteristics with limits, and a compact
 * one of the rest. */
void report_compare_put_people(struct page *page, const struct report_compare *report);

#endif
