/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whether what lines and recipes tell about the inside of a sheet goes together.  For one
 * thread; only within conf/.
 */
#ifndef CONF_INSIDE_H
#define CONF_INSIDE_H

struct draft;
struct part;

/* Of one line, whose channels know their roles: its view and its oven air. */
void inside_check_line(struct draft *draft, struct part *line);

/* Of one recipe: a sheet has a length and a width. */
void inside_check_recipe(struct draft *draft, struct part *recipe);

#endif
