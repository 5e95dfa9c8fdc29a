/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Posts bodies to one URL over a connection that is kept, compressed with gzip.
 *
 * One object belongs to one thread.  A post is started and finished, so that its
 * owner can do something useful while the other side works; both block, together for
 * the time-out at most.
 * An answer that comes when nobody asks is never taken for the next post's: the
 * connection is given up then.
 * Proxies named in the environment are not used; redirects are not followed.
 * The password goes into no sentence and no log.
 */
#ifndef DAEMON_PUBLISH_HTTP_H
#define DAEMON_PUBLISH_HTTP_H

#include <stdbool.h>
#include <stddef.h>

struct error;
struct http;

struct http_settings {
	const char *url;
	const char *user;          /* "": no authentication */
	const char *password_file; /* its first line */
	double timeout_s; /* of a post, in the system's time; connecting: 5 s at most */

	/* Asked ten times a second during a post: true breaks it off. */
	bool (*give_up)(void *arg);
	void *arg;
};

/*
 * Connects to nothing yet.  The first call in a process initialises libcurl, once
 * and for good; any thread may be the first.  The settings are copied, their
 * strings are lent until http_close.  NULL when memory is short.
 */
struct http *http_open(const struct http_settings *settings);
void http_close(struct http *http);

enum { HTTP_ANSWER_TEXT = 400 };

struct http_answer {
	int status;
	double retry_after_s;        /* 0: not said */
	char text[HTTP_ANSWER_TEXT]; /* the start of the body, one line */
};

/* A body, compressed; all 0 at first, and `bytes` is for its owner to free. */
struct http_body {
	unsigned char *bytes;
	size_t length, room; /* length 0: there is none */
};

/* Compresses a text.  It can be done while a post with another body is under way.
 * ERROR_MEMORY, and then there is none. */
int http_pack(struct http *http, const char *text, size_t length,
    struct http_body *body, struct error *error);

/*
 * Sends a body, which must stay as it is until http_finish: that must follow after 0.
 * ERROR_REFUSED: the password file will not do; ERROR_MEMORY.
 */
int http_start(struct http *http, const struct http_body *body, struct error *error);

/*
 * Waits for the answer.  Returns 0 when there is one, whatever its status.  Otherwise
 * ERROR_REFUSED: the other side's certificate will not do; ERROR_TIMEOUT, ERROR_IO:
 * the network; ERROR_BUSY: given up; ERROR_MEMORY.  The other side may then have got
 * the body or not.
 */
int http_finish(struct http *http, struct http_answer *answer, struct error *error);

#endif
