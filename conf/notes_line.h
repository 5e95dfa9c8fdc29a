/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The notes on how the sheets of each line are followed.  Pure; any thread; only within
 * conf/.
 */
#ifndef CONF_NOTES_LINE_H
#define CONF_NOTES_LINE_H

struct notes;

void notes_line_tell(const struct notes *notes);

#endif
