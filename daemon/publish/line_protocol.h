/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shots and events as InfluxDB line protocol, in the subset that every server of
 * that family takes: names of letters, digits and _, the same tags in the same
 * order for every point of a measurement, floats with 17 digits (integers with i
 * only where the field is one from its first point on), finite values only,
 * positive nanosecond times, \n line ends.  Pure.
 */
#ifndef DAEMON_PUBLISH_LINE_PROTOCOL_H
#define DAEMON_PUBLISH_LINE_PROTOCOL_H

#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

/* Adds one line and its \n; nothing when the point would have no field or no time. */
void line_protocol_shot(
    struct text *text, const char *site, const struct ledger_shot *shot);
void line_protocol_channel(struct text *text, const char *site,
    const struct ledger_shot *shot, const struct ledger_channel *channel);
void line_protocol_event(
    struct text *text, const char *site, const struct ledger_event *event);

#endif
