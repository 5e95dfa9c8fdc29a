/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A link over a serial line, Modbus RTU; link.c's.
 *
 * A late reply looks like the next one's.  So, around each request:
 *  - programs of ours take turns (flock) for request, answer and what follows;
 *  - what came before it is thrown away;
 *  - after a time-out the line is listened to for the time-out again and until it is
 *    silent; after a wrong reply until it is silent;
 *  - the unit is then in doubt (doubt.h), but for an answer that came damaged: it is
 *    asked for a shorter beginning of the block, and only when that very answer has
 *    come for the block itself;
 *  - other programs of ours are warned of what may come late (port.h), and those that
 *    ask the unit tell it by its length too;
 *  - replies of other units are passed over while there is time.
 * An adapter that echoes what is sent is noticed and its echo skipped from then on.
 * One object belongs to one thread.
 */
#ifndef DAEMON_FIELDBUS_LINK_SERIAL_H
#define DAEMON_FIELDBUS_LINK_SERIAL_H

#include "daemon/fieldbus/answer.h"

#include <stdbool.h>
#include <stdint.h>

struct bus_settings;
struct device_settings;
struct error;
struct link_serial;
struct read_block;

/* The bus is lent.  NULL when memory is short. */
struct link_serial *link_serial_new(const struct bus_settings *bus);
void link_serial_free(struct link_serial *serial); /* closed before */

/* Of an open port: the adapter is still there.  Does not block. */
bool link_serial_is_well(struct link_serial *serial);

/*
 * 0 or an error; not when it is open already.  Who had the port before may have left in
 * haste: so it is listened to until nothing has come for a time-out, three at most, and
 * every unit is in doubt at first.  While another program has it, it is waited for, three
 * time-outs at most.  What is in doubt from before stays so.
 */
int link_serial_open(struct link_serial *serial, double timeout_s, struct error *error);
void link_serial_close(struct link_serial *serial);

/* How long another program needs that waits for the port now; 0: none does. */
double link_serial_gap_s(const struct link_serial *serial);

/* Of an open port, before it is closed for good: waits until no answer of ours can come
 * late any more, which the next program would take for its own; doubt_after_s at most. */
void link_serial_linger(const struct link_serial *serial);

/* One request, and a probe before it where the unit is in doubt.  After ANSWER_LOST it
 * must be closed. */
enum answer link_serial_read(struct link_serial *serial,
    const struct device_settings *device, const struct read_block *block,
    uint16_t *words, struct error *error);

#endif
