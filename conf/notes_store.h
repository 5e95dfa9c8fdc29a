/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Stores that may lose or show what their author means to keep.  Only within conf/. */
#ifndef CONF_NOTES_STORE_H
#define CONF_NOTES_STORE_H

struct notes;

void notes_store_tell(const struct notes *notes);

#endif
