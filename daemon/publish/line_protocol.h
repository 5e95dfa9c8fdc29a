/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Shots, shifts, events and devices as InfluxDB line protocol, in the subset that every server of
 * that family takes: names of letters, digits and _, the same tags in the same
 * order for every point of a measurement, floats that read back bit for bit (integers
 * with i only where the field is one from its first point on), finite values only,
 * positive nanosecond times, \n line ends.  Pure.
 *
 *   measurement   tags                                      fields
 *   shot          site line recipe tool material outcome    shot_no, filed_us loaded_us
 *                 revision                                  heat_start_us heat_end_us
 *                                                           form_start_us form_end_us
 *                                                           closed_us, flags cycle_count
 *                                                           uncertainty_s, every feature
 *                                                           that is not absent; strings:
 *                                                           lot reason, and side
 *                                                           set_points properties set_up
 *                                                           where there are such; current
 *   shot_words    site line revision, and lot reason side   shot_no
 *                 set_points properties set_up where there
 *                 are such
 *   shot_absent   site line revision feature reason         shot_no
 *   shot_channel  site line recipe tool channel role        shot_no, min mean max sd last
 *                 revision                                  coverage (SI); current
 *   event         site line kind                            count (1), at_us (as the
 *                                                           others); string: text
 *   shift         site line shift recipe tool               n mean sd, cp cpk cpk_low
 *                 characteristic revision                   cpk_high pp ppk ppk_low
 *                                                           ppk_high lower upper target
 *                                                           outside lots, stable (0 or
 *                                                           1), verdict (1 capable, 0 not
 *                                                           established, -1 not
 *                                                           capable); current
 *   shift_total   site line shift revision                  shots and each outcome by its
 *                                                           name, outside cycle_s
 *                                                           oven_kwh heat_removed_kwh
 *                                                           gap_s length_s findings
 *                                                           capable not_capable
 *                                                           not_established; current
 *   reading       site line channel role                    mean last (SI), quality: of
 *                                                           the readings the share
 *                                                           that was good
 *   device        site line device                          requests and each of its
 *                                                           counts by its name,
 *                                                           answering, bad_channels,
 *                                                           late_p99_s late_worst_s
 *   logger        site host version                         up_s, the rest of struct
 *                                                           ledger_logger; of this store
 *                                                           backlog, refused, lost_readings
 *                                                           delivering (0 or 1)
 *   probe         site                                      ok (1): asks whether a store
 *                                                           takes any line at all
 *
 * Numbers are floats, except (i) shot_no and the counts of device and logger.  channel is
 * DEVICE.NAME.  A tag that is not known is `unknown`.  A store that holds no strings
 * (victoriametrics) gets shot_words in their place; the others have no shot_words.
 * shot_absent has a point for each feature that is absent for a reason; one that is neither
 * there nor absent is not configured.
 *
 * Time.  Sheets that are closed together are filed at one instant and may have the same
 * tags; some stores know milliseconds only.  So the time of all points of a shot is the
 * whole second of its filed_at, and in the place of milliseconds the last three digits of
 * its number: it depends on nothing else, and a point sent twice is one point.  filed_us
 * and the other _us are microseconds from that whole second on; they give back the times
 * as filed.  An event has its second and the last three digits of its change number;
 * reading, device, logger and probe have the second.
 *
 * Shifts.  A shift that has ended (see `evensoak close-shifts`) has a point of shift_total and
 * one of shift for each characteristic with limits, recipe and tool; what they mean stands
 * in the ledger's tables shift_total and shift_summary.  characteristic is a feature, mean
 * and the others are in its unit.  What is not known, or not to be quoted, is left out.  The
 * time of both is the second in which the shift begins.
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
 * Corrections.  Overwriting a point is exact in InfluxDB 1 and 2, not deterministic in 3,
 * and a second sample in VictoriaMetrics; moving one to other tags is possible in none.  So
 * nothing that was written is ever written otherwise.  A shot that is labelled or made anew
 * goes out whole under the next `revision` (0, 1, 2 ...), and its earlier revisions are
 * marked: the points of shot and shot_channel under the tags that they had get the new field
 * `superseded` (1).  Of the points of one site, line and shot_no that with the highest
 * revision holds; a point with `superseded` does not.  In InfluxDB 1 and 2 only, where
 * it is safe, points also have `current`, 1, which the mark overwrites with 0, since InfluxQL
 * cannot ask for a field that is not there.  With shift and shift_total it is the same: of
 * one site, line, shift and time the highest revision holds.
 */
#ifndef DAEMON_PUBLISH_LINE_PROTOCOL_H
#define DAEMON_PUBLISH_LINE_PROTOCOL_H

#include "conf/settings.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/publish/reading_pack.h"

/* What differs from one kind of store to the next. */
struct line_protocol_form {
	const char *site; /* lent */
	bool strings;     /* it holds them; else there are shot_words, and no text */
	bool current;     /* a point may be written anew: `current` */
};
struct line_protocol_form line_protocol_form(const char *site, enum store_kind kind);

/*
 * Each adds its lines, every one with its \n; none when the point would have no value or no
 * time.  See line_text.h for what becomes of odd characters.
 */

/* The point of shot.  `set_up` is the hash of its configuration; "": not known. */
void line_protocol_shot(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const char *set_up);
/* Where the store holds no strings. */
void line_protocol_words(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const char *set_up);
/* One for each feature that is absent for a reason. */
void line_protocol_absent(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot);
void line_protocol_channel(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const struct ledger_channel *channel);

/* Marks an earlier revision of the shot, and of one of its channels. */
void line_protocol_mark(struct text *text, const struct line_protocol_form *form,
    const struct ledger_shot *shot, const struct ledger_superseded *earlier);
void line_protocol_channel_mark(struct text *text,
    const struct line_protocol_form *form, const struct ledger_shot *shot,
    const struct ledger_superseded *earlier, const struct ledger_channel *channel);

void line_protocol_event(struct text *text, const struct line_protocol_form *form,
    const struct ledger_event *event);
/* Of line `line`, as of `at`. */
void line_protocol_reading(struct text *text, const struct line_protocol_form *form,
    const char *line, struct wall at, const struct reading_channel *channel);
/* `answering` is 0 to 1, NAN where it is not known. */
void line_protocol_device(struct text *text, const struct line_protocol_form *form,
    const struct ledger_device *device, double answering);

/* How a store stands. */
struct line_protocol_standing {
	int64_t backlog, refused; /* shots it still lacks; lines set aside */
	int64_t lost_readings;    /* that it never got */
	bool delivering;
};
void line_protocol_logger(struct text *text, const struct line_protocol_form *form,
    const struct ledger_logger *logger, const struct line_protocol_standing *standing);
void line_protocol_probe(
    struct text *text, const struct line_protocol_form *form, struct wall at);

#endif
