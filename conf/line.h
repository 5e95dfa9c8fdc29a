/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the settings of a line mean together.  For one thread; only within conf/.
 */
#ifndef CONF_LINE_H
#define CONF_LINE_H

struct draft;
struct part;

/* Notes stations and sides that such a machine has not, and times in a wrong order. */
void line_check(struct draft *draft, struct part *line);

#endif
