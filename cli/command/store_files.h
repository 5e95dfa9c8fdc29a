/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What can be seen, from the account that asks, of the files that stores need: secrets
 * and certificates.  Reads them as they are sent for, and keeps nothing.  Any thread;
 * blocks on a disk.
 */
#ifndef CLI_COMMAND_STORE_FILES_H
#define CLI_COMMAND_STORE_FILES_H

#include <stdbool.h>

struct settings;

/*
 * Calls `take` with what will not do: `wrong`, and evensoakd will not reach the store
 * until somebody mends it; else a doubt, as another account may see it differently.  The
 * sentence names the store and is lent.  A credential is looked at only where systemd has
 * put it.
 */
void store_files_tell(const struct settings *settings,
    void (*take)(void *arg, bool wrong, const char *sentence), void *arg);

/* Whether nothing is wrong. */
bool store_files_will_do(const struct settings *settings);

#endif
