/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the settings of a line mean together.  For one thread; only within conf/.
 */
#ifndef CONF_LINE_H
#define CONF_LINE_H

struct draft;
struct part;

/* A device that tells how sheets move may always be polled as seldom as this. */
enum { LINE_PERIOD_MS = 2000 };

/* Notes stations and sides that such a machine has not, times in a wrong order, and devices
 * polled too seldom to see its sheets move. */
void line_check(struct draft *draft, struct part *line);

#endif
