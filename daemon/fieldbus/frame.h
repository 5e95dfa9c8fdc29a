/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Modbus TCP frames of the four reading functions: the request's bytes, and the
 * check of a reply against its request.  Pure; any thread.
 *
 * There is no way to say another function than 1 to 4 here: the function code is
 * made from the register table.
 */
#ifndef DAEMON_FIELDBUS_FRAME_H
#define DAEMON_FIELDBUS_FRAME_H

#include "daemon/fieldbus/plan.h"

#include <stddef.h>
#include <stdint.h>

struct error;

enum {
	FRAME_REQUEST_BYTES = 12,
	FRAME_REPLY_BYTES = 260, /* at most */
};

struct frame_request {
	uint16_t transaction;
	uint8_t unit_id;
	struct read_block block;
};

void frame_write_request(
    const struct frame_request *request, uint8_t bytes[static FRAME_REQUEST_BYTES]);

/*
 * Takes the block's registers, or its bits as 0 and 1, out of a reply.  0 only when
 * every field is what this request must be answered with.  Otherwise `words` is
 * untouched and
 *   ERROR_REFUSED  the device answered with an exception, told in words;
 *   ERROR_TIMEOUT  a gateway answered that it cannot reach the device;
 *   ERROR_IO       this is no answer to this request: the connection is out of step.
 */
int frame_read_reply(const struct frame_request *request, const uint8_t *bytes,
    size_t length, uint16_t *words, struct error *error);

/* "holding 100..131"; `room` 32 fits all. */
void frame_block_text(const struct read_block *block, char *text, size_t room);

#endif
