/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * One request of libcurl after another, over one connection that is kept: what posts and
 * questions have in common.  Within publish/ only; see http.h for what is promised.
 *
 * A request is prepared, given its own options, begun, driven and ended, in that order.
 */
#ifndef DAEMON_PUBLISH_TRANSFER_H
#define DAEMON_PUBLISH_TRANSFER_H

#include "daemon/publish/http.h"

#include <curl/curl.h>
#include <stdint.h>

struct transfer {
	struct http_settings settings;
	CURL *curl;
	CURLM *multi; /* drives it, and keeps the connection */
	int running;  /* requests under way: 0 or 1 */
	int kept;     /* libcurl's socket of the last request; below 0: there is none */
	int64_t connections; /* made so far */
	const char *url;
	struct curl_slist *headers; /* the login among them */
	size_t header_bytes;        /* that came */
	bool ended;                 /* by whoever takes the body, or it is enough */
	int (*take)(void *arg, const char *bytes, size_t count);
	void *arg;
	char reason[CURL_ERROR_SIZE];
	char answer[HTTP_ANSWER_TEXT];
	size_t answer_length; /* of what is kept */
	size_t answer_bytes;  /* that came and were not taken */
};

/* False when memory is short; transfer_release either way. */
bool transfer_init(struct transfer *transfer, const struct http_settings *settings);
void transfer_release(struct transfer *transfer);

/* Forgets the last request and makes the next one to `url`, which is lent to its end:
 * a GET that nobody takes the body of. */
int transfer_prepare(struct transfer *transfer, const char *url, struct error *error);

bool transfer_add_header(struct transfer *transfer, const char *header);

/* As http_connection. */
int64_t transfer_connection(const struct transfer *transfer);

int transfer_begin(struct transfer *transfer, struct error *error);

/* Keeps it going until it has ended, or `enough` bytes of its body are sent.  False when
 * it is given up. */
bool transfer_drive(struct transfer *transfer, size_t enough);

/* Goes on to the end; `verb` for the sentence. */
int transfer_end(struct transfer *transfer, const char *verb,
    struct http_answer *answer, struct error *error);

#endif
