/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The part of notes.h that is about the inside of the sheets and the balance of the water:
 * what is not told that they are computed from.  Pure; any thread; only within conf/.
 */
#ifndef CONF_NOTES_INSIDE_H
#define CONF_NOTES_INSIDE_H

struct notes;
struct settings;

void notes_inside_tell(const struct notes *notes);

/* What no recipe, material or tool tells of what the feature needs: "no tool has
 * 'water_bore'"; NULL when one tells it all. */
const char *notes_inside_lack(const struct settings *settings, int feature);

#endif
