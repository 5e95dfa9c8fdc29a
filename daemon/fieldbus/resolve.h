/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The addresses of a host, without being held up by a name server.
 *
 * getaddrinfo has no time limit, so a name is looked up by a thread of its own while
 * the caller waits as long as it wants to.  Numeric addresses need no thread.  One
 * object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_RESOLVE_H
#define DAEMON_FIELDBUS_RESOLVE_H

struct addrinfo;
struct error;
struct resolve;

/* Starts looking.  NULL with the reason in `error`. */
struct resolve *resolve_new(const char *host, int port, struct error *error);

/* Lets a look-up that is still running end by itself. */
void resolve_free(struct resolve *resolve);

/*
 * Waits for at most `timeout_ms` of the system's time.  0: `list` is lent until
 * resolve_free.  ERROR_TIMEOUT: not known yet, wait again.  ERROR_NOT_FOUND: there
 * is no such host.
 */
int resolve_wait(struct resolve *resolve, int timeout_ms, const struct addrinfo **list,
    struct error *error);

#endif
