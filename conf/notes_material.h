/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The notes on the figures of materials: those that no plastic has, and those that belong
 * to another structure.  Pure; any thread; only within conf/.
 */
#ifndef CONF_NOTES_MATERIAL_H
#define CONF_NOTES_MATERIAL_H

struct notes;

void notes_material_tell(const struct notes *notes);

#endif
