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

#include "daemon/fieldbus/answer.h"

#include <stdbool.h>
#include <stdint.h>

struct bus_settings;
struct device_settings;
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
 * Reads the block of a unit of a connected link into `words`: its registers, or its
 * bits as 0 and 1.  Of the device its unit_id, timeout_s and gap_s count, so that who
 * wants to ask a unit that is not configured fills in these.  Blocks for timeout_s at
 * most.  Unless the answer is good `words` is untouched and `error` says why; after
 * ANSWER_NONE, ANSWER_WRONG and ANSWER_LOST ask link_is_ready again.
 */
enum answer link_read(struct link *link, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error);

/* Since link_new: connections made, and those that ended otherwise than by link_free. */
struct link_counts {
	int64_t opened, lost;
};
struct link_counts link_counts(const struct link *link);

#endif
