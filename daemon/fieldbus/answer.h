/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What became of one request on a bus; counted by device.
 */
#ifndef DAEMON_FIELDBUS_ANSWER_H
#define DAEMON_FIELDBUS_ANSWER_H

#include <stdbool.h>

enum answer {
	ANSWER_GOOD,
	/* Exceptions of the standard: the link stays as it is. */
	ANSWER_ILLEGAL, /* 1, 2, 3: the device has not what it was asked for */
	ANSWER_BUSY,    /* 5, 6: later perhaps */
	ANSWER_FAULT,   /* 4, 7, 8 and those that are not in the standard */
	ANSWER_GATEWAY, /* 10, 11: the gateway cannot reach the device */
	/* No answer to this request: nothing of the link is believed any more. */
	ANSWER_NONE, /* timed out */
	ANSWER_WRONG, /* to something else, damaged, or nothing that the standard knows */
	ANSWER_LOST,  /* the connection or the port is gone */
	ANSWER_COUNT, /* of requests; what follows was none */
	/* Nothing was sent: it would have been unsafe, or the port was not to be had.  Says
	 * nothing of the device. */
	ANSWER_UNASKED = ANSWER_COUNT,
};

/* "good", "illegal", "busy", "fault", "gateway", "none", "wrong", "lost", "unasked". */
const char *answer_text(enum answer answer);

/* Whether it is the device that did not answer, or nobody could say for it. */
bool answer_is_silence(enum answer answer);

#endif
