/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A link over TCP; link.c's.  Behind one connection there may be several units.
 *
 * libmodbus frames the replies; connecting, requests and checks are ours.  Keep-alive
 * finds a connection whose other end is gone without a word even while nothing is
 * asked, after half a minute.  One object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_LINK_TCP_H
#define DAEMON_FIELDBUS_LINK_TCP_H

#include "daemon/fieldbus/answer.h"

#include <stdbool.h>
#include <stdint.h>

struct bus_settings;
struct device_settings;
struct error;
struct link_tcp;
struct read_block;

/* The bus is lent.  NULL when memory is short. */
struct link_tcp *link_tcp_new(const struct bus_settings *bus);
void link_tcp_free(struct link_tcp *tcp);

/* Of a connection that there is: the other end has neither closed it nor sent what
 * nobody asked for.  Does not block. */
bool link_tcp_is_well(struct link_tcp *tcp);

/* Connects, within `timeout_s`.  0 or an error; not when it is connected already. */
int link_tcp_open(struct link_tcp *tcp, double timeout_s, struct error *error);
void link_tcp_close(struct link_tcp *tcp);

/* One request.  After ANSWER_NONE, ANSWER_WRONG and ANSWER_LOST it must be closed. */
enum answer link_tcp_read(struct link_tcp *tcp, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error);

#endif
