/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The connection to one bus: a Modbus TCP end point with any number of unit ids.
 *
 * It can read, and nothing else.  Every reply is checked against its request; after
 * whatever is not an answer to it the connection is closed, so that a late reply can
 * never be taken for the next one.  Time-outs are in the system's time, whatever the
 * rate of the clock, and cover the whole of a call.  One object belongs to one
 * thread; signals should be blocked in it.
 */
#ifndef DAEMON_FIELDBUS_LINK_H
#define DAEMON_FIELDBUS_LINK_H

#include <stdbool.h>
#include <stdint.h>

struct bus_settings;
struct error;
struct link;
struct read_block;

/* Not connected yet.  The bus is lent for as long as it lives.  NULL when memory is
 * short. */
struct link *link_new(const struct bus_settings *bus);
void link_free(struct link *link);

/* Connected, and the other end has neither closed nor sent what nobody asked for;
 * closes a connection that is not so.  Does not block. */
bool link_is_ready(struct link *link);

/* Connects, closing the connection that there is.  Blocks for `timeout_s` at most,
 * name look-up included. */
int link_open(struct link *link, double timeout_s, struct error *error);

/*
 * Reads the block of a connected link into `words`: its registers, or its bits as 0
 * and 1.  Blocks for `timeout_s` at most.  On failure `words` is untouched and
 *   ERROR_REFUSED  the device answered with an exception: the link stays connected;
 *   others         it did not, or not to this request.
 */
int link_read(struct link *link, uint8_t unit_id, const struct read_block *block,
    double timeout_s, uint16_t *words, struct error *error);

#endif
