/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the sources of notes.h share.  Pure; any thread; only within conf/.
 */
#ifndef CONF_NOTE_H
#define CONF_NOTE_H

#include "conf/settings.h"

#include <stdint.h>

/* Lent to those who tell. */
struct notes {
	const struct settings *settings;
	void (*take)(void *arg, const char *sentence);
	void *arg;
};

/* Hands on one sentence. */
void note(const struct notes *notes, const char *format, ...)
    __attribute__((format(printf, 2, 3)));

enum { NOTE_ROLES = 64 };

/* "zone_top or zone_bottom", of a set as of MACHINE_ROLE; returns `text`. */
const char *note_roles(uint32_t roles, char text[static NOTE_ROLES]);

#endif
