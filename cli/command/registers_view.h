/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The page of registers that were read: for people a table of what one register can mean
 * and two of what it can mean with the next one, for machines a row a register.  Pure.
 */
#ifndef CLI_COMMAND_REGISTERS_VIEW_H
#define CLI_COMMAND_REGISTERS_VIEW_H

struct page;
struct registers_ask;
struct survey;
struct text;

/* What was read of a block; the slowest answer took `slowest_s`. */
void registers_view_put(struct page *page, const struct registers_ask *ask,
    const struct survey *survey, double slowest_s);

/* The parts of it, each a file of its own: for people alone. */
void registers_view_put_words(
    struct page *page, const struct registers_ask *ask, const struct survey *survey);
void registers_view_put_bits(
    struct page *page, const struct registers_ask *ask, const struct survey *survey);
/* Of one register, the survey's first: each decoding in a row, and the lines of a channel
 * for those that are likely. */
void registers_view_put_one(
    struct page *page, const struct registers_ask *ask, const struct survey *survey);

/* Adds the channels of the set-up that are read from there. */
void registers_view_channels(
    const struct registers_ask *ask, unsigned address, struct text *text);

/* What is said of registers that were not read: "100..104: no such registers". */
enum { REGISTERS_HOLE = 320 };
void registers_view_hole(const struct survey *survey, unsigned at, unsigned count,
    char text[static REGISTERS_HOLE]);

#endif
