/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Notes on what hangs on what, and on when and how channels are read.  Pure; any thread;
 * only within conf/.
 */
#ifndef CONF_NOTES_BUS_H
#define CONF_NOTES_BUS_H

struct notes;

void notes_bus_tell(const struct notes *notes);

#endif
