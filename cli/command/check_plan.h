/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The tables of `check`: what is asked of which device, and the time that it takes.
 */
#ifndef CLI_COMMAND_CHECK_PLAN_H
#define CLI_COMMAND_CHECK_PLAN_H

#include <stdbool.h>

struct check_plan;
struct page;
struct settings;

/* `settings` are lent for as long as it lives.  NULL when memory is short. */
struct check_plan *check_plan_new(const struct settings *settings);
void check_plan_free(struct check_plan *plan);

/* False: a serial line has no time for all that is read over it. */
bool check_plan_fits(const struct check_plan *plan);

/* Devices, their groups and buses, what the buses have no time for, then the blocks. */
void check_plan_put(const struct check_plan *plan, struct page *page);

#endif
