/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Posts bodies to one URL over a connection that is kept, compressed with gzip; and asks
 * questions of the same store.
 *
 * One object belongs to one thread.  A post is started and finished, so that its
 * owner can do something useful while the other side works; both block, together for
 * the time-out at most.  Nothing is asked while a post is under way.
 * An answer that comes when nobody asks is never taken for the next one: the
 * connection is given up then.
 * Proxies named in the environment are not used; redirects are not followed.  https
 * is TLS 1.2 or later, with a certificate that is checked unless the settings say no.
 * The secret goes into no sentence and no log.
 */
#ifndef DAEMON_PUBLISH_HTTP_H
#define DAEMON_PUBLISH_HTTP_H

#include <stdbool.h>
#include <stddef.h>
#include <stdint.h>

struct error;
struct http;
struct text;

enum http_login {
	HTTP_LOGIN_NONE,
	HTTP_LOGIN_BASIC,  /* user and password */
	HTTP_LOGIN_TOKEN,  /* "Authorization: Token ..." */
	HTTP_LOGIN_BEARER, /* "Authorization: Bearer ..." */
};

/* store_http fills it.  NULL strings are as "". */
struct http_settings {
	const char *url; /* that is posted to */
	enum http_login login;
	const char *user; /* of HTTP_LOGIN_BASIC */
	const char
	    *secret_file;       /* see secret.h; read anew for every request, so that */
	const char *credential; /* another one needs no restart */
	const char *ca_file;    /* the only ones who vouch; "": the system's */
	bool trust_anybody;     /* the certificate is not checked */
	double timeout_s; /* of a post, in the system's time; connecting: 5 s at most */

	/* Asked ten times a second during a request: true breaks it off.  May be NULL. */
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
 * ERROR_REFUSED: the secret will not do; ERROR_MEMORY.
 */
int http_start(struct http *http, const struct http_body *body, struct error *error);

/*
 * Waits for the answer.  Returns 0 when there is one, whatever its status; more than a
 * megabyte of its body is not waited for.  Otherwise ERROR_REFUSED: the other side's
 * certificate will not do; ERROR_TIMEOUT, ERROR_IO: the network, or headers without an
 * end; ERROR_BUSY: given up; ERROR_MEMORY.  The other side may then have got the body
 * or not.
 */
int http_finish(struct http *http, struct http_answer *answer, struct error *error);

/* Between two requests, the connection that is kept: a number that no other one of this
 * object has, from 1 on; 0 when there is none, or the other side has ended it. */
int64_t http_connection(const struct http *http);

/* What is asked, and who takes the answer. */
struct http_question {
	const char *url;  /* of the same store: it gets the same login */
	const char *form; /* posted to it; NULL: nothing is, a GET */

	/* Gets the body of a 2xx as it comes, uncompressed, in pieces of 64 KiB at most,
	 * lent; other than 0 ends it. */
	int (*take)(void *arg, const char *bytes, size_t count);
	void *arg;
};

/*
 * Asks, and blocks for the whole answer.  Nothing of that is kept: it may be of any length
 * and take an hour; less than a byte a second over the time-out breaks it off.  Returns 0
 * when there is an answer, whatever its status, or `take` has ended it; `answer->text` is
 * the start of a body that `take` did not get.  Errors as of http_start and http_finish;
 * `take` may have got a part by then.
 */
int http_ask(struct http *http, const struct http_question *question,
    struct http_answer *answer, struct error *error);

/* Adds "name=value" to a form, behind a '&' where it is not the first; both are encoded. */
void http_add_pair(struct text *form, const char *name, const char *value);

#endif
