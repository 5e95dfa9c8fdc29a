/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What must hold of the shifts of a configuration, each by itself and all together. */
#ifndef CONF_SHIFT_CHECK_H
#define CONF_SHIFT_CHECK_H

struct draft;

/* Also takes their names out of their section lines. */
void shift_check(struct draft *draft);

#endif
