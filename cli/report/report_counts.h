/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The part of a report that counts: what ran, and what the statistics leave out.
 */
#ifndef CLI_REPORT_REPORT_COUNTS_H
#define CLI_REPORT_REPORT_COUNTS_H

#include "cli/population/population.h"
#include "cli/page/page.h"

struct error;
struct source;

void report_counts_outcomes(struct page *page, const struct populations *all);
void report_counts_left_out(struct page *page, const struct populations *all);

/* The numbers of shots that the source does not have, if there are any. */
void report_counts_missing(
    struct page *page, const struct lacking *missing, const struct source *source);

/* For people: machines find the same in each population. */
void report_counts_what_ran(struct page *page, const struct populations *all);

/* The set-ups in force, by their hashes.  0, or the error. */
int report_counts_setups(struct page *page, const struct populations *all,
    struct source *source, struct error *error);

#endif
