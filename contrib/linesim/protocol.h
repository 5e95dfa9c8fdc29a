/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Modbus TCP as a device speaks it: one request in, one answer out.  Reading only
 * (functions 1 to 4); everything else is refused with exception 01 and counted.
 * After "MODBUS Application Protocol Specification V1.1b3" and "MODBUS Messaging on
 * TCP/IP Implementation Guide V1.0b" (modbus.org).  Pure: no sockets, no clock.
 */
#ifndef CONTRIB_LINESIM_PROTOCOL_H
#define CONTRIB_LINESIM_PROTOCOL_H

#include <stddef.h>
#include <stdint.h>

struct bank;

enum { PROTOCOL_HEADER = 7, PROTOCOL_FRAME_MAX = 260 };

/* What masters asked for, over the whole run. */
struct protocol_counts {
	uint64_t functions[256];
	uint64_t refused; /* of functions that are not 1 to 4 */
};

/*
 * How many bytes the frame at the start of `bytes` has: 0 when more must come to
 * tell or to complete it, negative when it is not Modbus TCP.
 */
int protocol_frame_length(const uint8_t *bytes, size_t count);

/*
 * Answers the complete frame `request` from `bank` as it stands at step `now`.
 * Returns the length of the answer, or 0 when the device does not answer (it is
 * silent, or another unit is meant).
 */
size_t protocol_answer(const struct bank *bank, int64_t now, const uint8_t *request,
    uint8_t answer[static PROTOCOL_FRAME_MAX], struct protocol_counts *counts);

#endif
