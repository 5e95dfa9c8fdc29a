/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Modbus frames of the four reading functions, over TCP and on a serial line (RTU):
 * the request's bytes, and the check of a reply against its request.
 *
 * Pure, and total: any bytes of any length may be given as a reply, which is what a
 * fuzzer does.  Any thread.
 *
 * There is no way to say another function than 1 to 4 here: the function code is
 * made from the register table.
 */
#ifndef DAEMON_FIELDBUS_FRAME_H
#define DAEMON_FIELDBUS_FRAME_H

#include "daemon/fieldbus/answer.h"
#include "daemon/fieldbus/plan.h"

#include <stddef.h>
#include <stdint.h>

struct error;

enum {
	FRAME_TCP_REQUEST_BYTES = 12,
	FRAME_RTU_REQUEST_BYTES = 8,
	FRAME_REQUEST_BYTES = FRAME_TCP_REQUEST_BYTES, /* at most */
	FRAME_REPLY_BYTES = 260,                       /* at most, of either */
};

struct frame_request {
	enum bus_kind kind;   /* how it is framed */
	uint16_t transaction; /* of TCP alone */
	uint8_t unit_id;
	struct read_block block;
};

/* Returns how many bytes it wrote: of TCP or of RTU. */
size_t frame_write_request(
    const struct frame_request *request, uint8_t bytes[static FRAME_REQUEST_BYTES]);

/*
 * Takes the block's registers, or its bits as 0 and 1, out of a reply.  Good only when
 * every field, and of RTU the check sum, is what this request must be answered with.
 * Otherwise `words` is untouched, `error` says why, and it is
 *   ANSWER_ILLEGAL, ANSWER_BUSY, ANSWER_FAULT  an exception of the device;
 *   ANSWER_GATEWAY                             an exception of a gateway before it;
 *   ANSWER_WRONG                               no answer to this request.
 */
enum answer frame_read_reply(const struct frame_request *request, const uint8_t *bytes,
    size_t length, uint16_t *words, struct error *error);

/* Bytes of data in a good reply to the block. */
size_t frame_data_bytes(const struct read_block *block);

/* The check sum of RTU; its low byte goes first. */
uint16_t frame_crc(const uint8_t *bytes, size_t length);

/* "holding 100..131"; `room` 32 fits all. */
void frame_block_text(const struct read_block *block, char *text, size_t room);

#endif
