/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shots, events and devices as InfluxDB line protocol, in the subset that every server of
 * that family takes: names of letters, digits and _, the same tags in the same
 * order for every point of a measurement, floats that read back bit for bit (integers
 * with i only where the field is one from its first point on), finite values only,
 * positive nanosecond times, \n line ends.  Pure.
 *
 *   measurement   tags                                       fields
 *   shot          site line recipe tool material outcome     shot_no change (integers),
 *                                                            lot reason (strings), side
 *                                                            set_points properties
 *                                                            (strings, where there are
 *                                                            such), every feature that
 *                                                            is not absent
 *   shot_channel  site line recipe tool channel role         change (integer), min mean
 *                                                            max sd last coverage (SI)
 *   event         site line kind                             text
 *   device        site line device                           requests and each of its
 *                                                            counts by its name
 *                                                            (integers), answering,
 *                                                            bad_channels (integer),
 *                                                            late_p99_s late_worst_s
 *
 * channel is DEVICE.NAME.  A tag that is not known is `unknown`.
 *
 * Time.  Sheets that are closed together are filed at one instant and may have the
 * same tags; so may events.  In a store they would be one point.  So the time is the
 * ledger's (filed_at, at) to the microsecond, and its last three digits are those of
 * the shot number, or of the event's change number, or 0 for a device.  It depends on
 * nothing else: a point sent twice is one point.
 *
 * Devices.  A point tells, as of its time:
 *   requests      and good, illegal ... lost: what became of them; scans, failures, late,
 *                 opened: all counted since the daemon began to poll the device, so they
 *                 begin at 0 with each start
 *   answering     of the scans since the point before, or since that start, the share that
 *                 was answered in full: 0 to 1; a silence between two points is in the
 *                 second.  Without it where there was no scan
 *   bad_channels  its channels that it answers without a good value: sensors that report
 *                 a fault, are out of range or frozen, registers that it refuses.
 *                 Without it while the device is silent
 *   late_p99_s    how late 99 of 100 scans began at most, late_worst_s all: of the last
 *                 one to two hours
 *
 * Corrections.  A shot that is labelled anew goes out again with a higher `change`.
 * Under the same tags it replaces itself (lot and reason are always written).  When
 * the correction is to a tag, the old point stays beside the new one, as these
 * stores cannot move a point: of the points of one line and time, that with the
 * highest `change` holds.  A value that becomes absent cannot be taken back either.
 */
#ifndef DAEMON_PUBLISH_LINE_PROTOCOL_H
#define DAEMON_PUBLISH_LINE_PROTOCOL_H

#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

/*
 * Adds one line and its \n; nothing when the point would have no value or no time.
 * In names and texts a control character becomes a blank, a byte that is not UTF-8
 * a ?, a backslash in a tag a /.
 */
void line_protocol_shot(
    struct text *text, const char *site, const struct ledger_shot *shot);
void line_protocol_channel(struct text *text, const char *site,
    const struct ledger_shot *shot, const struct ledger_channel *channel);
void line_protocol_event(
    struct text *text, const char *site, const struct ledger_event *event);
/* `answering` is 0 to 1, NAN where it is not known. */
void line_protocol_device(struct text *text, const char *site,
    const struct ledger_device *device, double answering);

#endif
