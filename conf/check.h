/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What sections mean together: names that lead nowhere, orders, overlaps.  For one
 * thread; only within conf/.
 */
#ifndef CONF_CHECK_H
#define CONF_CHECK_H

struct draft;

/* Notes every mistake across settings and sections, and completes the parts.  With
 * no mistake noted at all, the draft makes valid settings. */
void check_draft(struct draft *draft);

#endif
