/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Passwords and tokens, from files that not everybody may read, or from those that
 * systemd hands to a service (LoadCredential=).
 *
 * Any thread; blocks on a disk.  Nothing of a secret is in any sentence.
 */
#ifndef DAEMON_PUBLISH_SECRET_H
#define DAEMON_PUBLISH_SECRET_H

struct error;

enum { SECRET_BYTES = 4096 }; /* the NUL among them */

/*
 * The first line of the file at `path`, or, when that is "", of systemd's credential
 * `credential`: the file of that name in $CREDENTIALS_DIRECTORY.  The caller wipes
 * `secret` with explicit_bzero.  ERROR_REFUSED: there is none, others than its owner
 * and its group may get at it, or it is no secret: empty, too long, not one line of
 * plain characters.  `secret` is all zeros then.
 */
int secret_read(const char *path, const char *credential,
    char secret[static SECRET_BYTES], struct error *error);

#endif
