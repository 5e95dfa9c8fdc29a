/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The sockets of the devices that a line has: one port each on 127.0.0.1, several
 * masters at a port.  Never blocks but in server_wait.  One object belongs to one thread.
 */
#ifndef CONTRIB_LINESIM_SERVER_H
#define CONTRIB_LINESIM_SERVER_H

#include "contrib/linesim/protocol.h"
#include "contrib/linesim/registers.h"

#include <signal.h>
#include <stdint.h>

struct error;
struct server;

/* Listens for the devices that there are: at `port` plus the device's number, or at any
 * free ports when it is 0.  NULL and the reason when it cannot. */
struct server *server_open(
    uint16_t port, const bool there[DEVICE_COUNT], struct error *error);
void server_close(struct server *server);

/* 0 for a device that is not there. */
uint16_t server_port(const struct server *server, enum device device);

/*
 * Waits for a request or for `wait_ns` of the system's time, whichever comes first;
 * `signals` are let through meanwhile.
 */
void server_wait(struct server *server, int64_t wait_ns, const sigset_t *signals);

/* Answers what has come, as things stand at step `now`, and sends the late answers
 * that are due. */
void server_serve(
    struct server *server, const struct registers *registers, int64_t now);

/* Has each function code that a master asks for written to the end of the file, once:
 * "linesim 3".  `path` is lent. */
void server_tell_asked(struct server *server, const char *path);

const struct protocol_counts *server_counts(const struct server *server);

#endif
