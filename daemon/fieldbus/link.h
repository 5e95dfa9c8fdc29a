/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The connection to one bus: a Modbus TCP end point with any number of unit ids, or a
 * serial line (Modbus RTU).
 *
 * It can read, and nothing else.  Every reply is checked against its request, and a
 * late one is never taken for the next one's:
 *  - over TCP the connection is closed after whatever is not an answer;
 *  - on a serial line, where a reply does not say which request it is to, the unit is
 *    then believed again only when it has answered with a reply that nothing asked
 *    earlier could have (link_serial.h, and what is relied on: doubt.h).
 * Time-outs are in the system's time, whatever the rate of the clock.  One object
 * belongs to one thread; signals should be blocked in it.
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

/* Of a serial line it waits first, up to four time-outs after the last request that was
 * not answered: the next program would take a late answer for its own. */
void link_free(struct link *link);

/* Connected, and the other end has neither closed nor sent what nobody asked for, or
 * the port is still there; closes what is not so.  Does not block. */
bool link_is_ready(struct link *link);

/* Connects, or opens the port, closing what there is.  Blocks for `timeout_s` at most,
 * name look-up included.  A port is listened to so long, in case the program before was
 * answered late: up to three, and three more while another program has it. */
int link_open(struct link *link, double timeout_s, struct error *error);

/*
 * Reads the block of a unit of a connected link into `words`: its registers, or its
 * bits as 0 and 1.  Unless the answer is good `words` is untouched and `error` says
 * why; after ANSWER_NONE, ANSWER_WRONG and ANSWER_LOST ask link_is_ready again.
 *
 * Of the device its unit_id, timeout_s and gap_s count, so that who wants to ask a
 * unit that is not configured fills in these.  The next request on the link, to
 * whatever unit, waits until gap_s after the answer.
 *
 * Blocks, after such a gap, for timeout_s at most over TCP.  On a serial line there
 * may come: three of them while another program has the port, one for a probe, one or
 * two of listening after a time-out.
 */
enum answer link_read(struct link *link, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error);

/* Since link_new: connections made, or a port opened, and how often one was closed
 * because it had ended or was not to be believed any more. */
struct link_counts {
	int64_t opened, lost;
};
struct link_counts link_counts(const struct link *link);

#endif
