/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What sound settings say that their author may not mean: nothing to refuse, something
 * to tell.  Pure; any thread.
 */
#ifndef CONF_NOTES_H
#define CONF_NOTES_H

struct settings;

/* Calls `take` with each, one sentence; it is lent until `take` returns. */
void notes_tell(const struct settings *settings,
    void (*take)(void *arg, const char *sentence), void *arg);

#endif
