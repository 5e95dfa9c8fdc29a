/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Numbers of shots as a cell: "3, 7-9, 12"; machines get all, people the first of very many
 * and how many more there are.  Pure; any thread. */
#ifndef CLI_WORDING_SHOWN_NUMBERS_H
#define CLI_WORDING_SHOWN_NUMBERS_H

#include "cli/page/page.h"
#include "daemon/base/text.h"

struct numbers;

enum { SHOWN_RUNS = 300 }; /* that people get at most; 7-9 is one */

/* Until the release the words of the cell are here. */
struct shown_numbers {
	struct text all, first;
};

/* Fills `shown`; sorted numbers.  The page fails when memory is short. */
struct cell shown_numbers_cell(
    struct page *page, const struct numbers *numbers, struct shown_numbers *shown);
void shown_numbers_release(struct shown_numbers *shown);

#endif
