/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the manual says of the ledger's tables and columns where a comment in the SQL does
 * not say it, or not by itself: released SQL is not edited.  A sentence; each further line is
 * a value and what it means.  Constant data.
 */
#ifndef CONTRIB_MAN_LEDGER_WORDS_H
#define CONTRIB_MAN_LEDGER_WORDS_H

/* Of the table with column "", of a column, or of all columns of that name (table ""). NULL:
 * nothing. */
const char *ledger_words(const char *table, const char *column);

/* The place of the table on the page: what people ask for first.  After all that are known:
 * others. */
int ledger_words_place(const char *table);

#endif
