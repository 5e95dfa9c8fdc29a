/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a store, or whatever else listens there, answers to a post or a question.  What comes
 * out of it is no 204 that the bytes have not, a text of one line and a wait that somebody
 * asked for; a question's body comes in pieces of bounded size; and nothing of it is taken
 * for the answer to the next post.
 *
 * Input: bit 0 set keeps the connection open behind a whole answer, bit 1 makes it a
 * question; so many of the last bytes come late, when the answer has been taken; the answer.
 */
#include "tests/fuzz/target.h"

#include <arpa/inet.h>
#include <math.h>
#include <poll.h>
#include <strings.h>
#include <sys/socket.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/publish/backoff.h"
#include "daemon/publish/http.h"
#include "daemon/publish/store.h"

enum { REQUEST_ROOM = 4096, WAIT_MS = 2000, SECOND_STATUS = 503, SECOND_RETRY_S = 7 };

static int listener = -1;
static int connection = -1; /* of the post under way */

static int
listen_somewhere(void)
{
	struct sockaddr_in address = {
	    .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t size = sizeof(address);

	listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	MUST(listener >= 0);
	MUST(bind(listener, (struct sockaddr *)&address, size) == 0);
	MUST(listen(listener, 8) == 0);
	MUST(getsockname(listener, (struct sockaddr *)&address, &size) == 0);
	return ntohs(address.sin_port);
}

/* The answer was not whole: no more of it will come. */
static bool
no_more(void *arg)
{
	(void)arg;
	if (connection >= 0)
		shutdown(connection, SHUT_WR);
	return false;
}

/* Closes without TIME_WAIT: a thousand connections a second. */
static void
hang_up(void)
{
	struct linger none = {.l_onoff = 1};

	if (connection < 0)
		return;
	setsockopt(connection, SOL_SOCKET, SO_LINGER, &none, sizeof(none));
	close(connection);
	connection = -1;
}

/* Takes the request of the post that was started, on the connection there is or on a new
 * one. */
static bool
take_request(int wait_ms)
{
	static char request[REQUEST_ROOM];
	struct pollfd ends[] = {{listener, POLLIN, 0}, {connection, POLLIN, 0}};

	if (poll(ends, 2, wait_ms) <= 0)
		return false;
	if (ends[0].revents != 0) {
		hang_up();
		connection = accept(listener, NULL, NULL);
		MUST(connection >= 0);
	}
	ends[1].fd = connection;
	return poll(&ends[1], 1, wait_ms) == 1 &&
	       recv(connection, request, sizeof(request), 0) > 0;
}

static bool
contains(const uint8_t *bytes, size_t length, const char *word)
{
	size_t size = strlen(word);

	for (size_t i = 0; i + size <= length; i++)
		if (strncasecmp((const char *)bytes + i, word, size) == 0)
			return true;
	return false;
}

/* Whether a status line says that the lines were taken.  libcurl makes 200 of a line that
 * tells no status, and takes "HTTP 204" too: only of 204 is anything believed. */
static bool
tells_taken(const uint8_t *bytes, size_t length)
{
	for (size_t i = 0; i + 8 <= length; i++)
		if (memcmp(bytes + i, "HTTP", 4) == 0 &&
		    contains(bytes + i, length - i < 16 ? length - i : 16, "204"))
			return true;
	return false;
}

static void
check_answer(const struct http_answer *answer, const uint8_t *bytes, size_t length)
{
	struct backoff backoff;
	size_t text = strnlen(answer->text, HTTP_ANSWER_TEXT);

	bool taken = store_answer(STORE_INFLUXDB1, answer) == STORE_TAKEN;
	MUST(taken == (answer->status == 204));
	if (taken)
		MUST(tells_taken(bytes, length));
	MUST(text < HTTP_ANSWER_TEXT);
	MUST(text == 0 || is_sentence(answer->text, HTTP_ANSWER_TEXT));
	MUST(isfinite(answer->retry_after_s) && answer->retry_after_s >= 0);
	if (answer->retry_after_s > 0)
		MUST(contains(bytes, length, "retry-after"));
	backoff_init(&backoff, 1, 600);
	double wait_s = backoff_next_s(&backoff, answer->retry_after_s, 0.5);
	MUST(wait_s >= 0.5 && wait_s <= 3600);
}

/* What http_start, http_finish and http_ask may return. */
static void
check_code(int rc, const struct error *error)
{
	MUST(rc == 0 || rc == ERROR_REFUSED || rc == ERROR_TIMEOUT || rc == ERROR_IO ||
	     rc == ERROR_BUSY || rc == ERROR_MEMORY);
	MUST(rc == 0 ? error->text[0] == '\0'
		     : is_sentence(error->text, sizeof(error->text)));
}

/* --- a question ------------------------------------------------------------------- */

struct asked {
	const uint8_t *bytes;
	size_t length;
	bool keep, sent;
	size_t taken;
};

/* Answers as soon as the question is there, without waiting for it: asking blocks. */
static bool
answer_question(void *arg)
{
	struct asked *asked = arg;

	if (asked->sent) {
		no_more(NULL);
	} else if (take_request(0)) {
		asked->sent = true;
		if (asked->length > 0)
			(void)send(
			    connection, asked->bytes, asked->length, MSG_NOSIGNAL);
		if (!asked->keep)
			shutdown(connection, SHUT_WR);
	}
	return false;
}

static int
take_piece(void *arg, const char *bytes, size_t count)
{
	struct asked *asked = arg;

	MUST(bytes != NULL && count <= 64 << 10);
	asked->taken += count;
	return asked->taken > 1 << 20; /* gzip makes much of little */
}

static void
check_question(const char *url, const uint8_t *bytes, size_t length, bool keep)
{
	struct asked asked = {.bytes = bytes, .length = length, .keep = keep};
	struct http_answer answer = {0};
	struct error error = {""};
	struct http_question question = {
	    .url = url, .form = "q=x", .take = take_piece, .arg = &asked};
	struct http *http = http_open(&(struct http_settings){
	    .url = url, .timeout_s = 5, .give_up = answer_question, .arg = &asked});

	MUST(http != NULL);
	int rc = http_ask(http, &question, &answer, &error);
	check_code(rc, &error);
	MUST(asked.taken < (1 << 20) + (64 << 10) + 1);
	if (rc == 0) {
		check_answer(&answer, bytes, length);
		if (answer.status >= 200 && answer.status <= 299)
			MUST(answer.text[0] == '\0');
		else
			MUST(asked.taken == 0);
	}
	http_close(http);
	hang_up();
}

/* --- a post ----------------------------------------------------------------------- */

/* One post, answered with these bytes; whether there was an answer. */
static bool
post(struct http *http, const uint8_t *bytes, size_t length, bool keep,
    struct http_answer *answer)
{
	static unsigned char line[] = "a b=1";
	struct http_body body = {line, sizeof(line) - 1, sizeof(line)};
	struct error error = {""};

	MUST(http_start(http, &body, &error) == 0);
	if (take_request(WAIT_MS)) {
		if (length > 0 && send(connection, bytes, length, MSG_NOSIGNAL) < 0)
			hang_up();
		if (!keep && connection >= 0)
			shutdown(connection, SHUT_WR);
	}
	int rc = http_finish(http, answer, &error);
	check_code(rc, &error);
	return rc == 0;
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static const char second[] = "HTTP/1.1 503 no\r\nRetry-After: 7\r\n"
				     "Content-Length: 0\r\nConnection: close\r\n\r\n";
	static char url[64];
	struct input input = {bytes, length};
	uint8_t manner = input_u8(&input);
	bool keep = manner & 1;
	size_t late = input_u8(&input);
	struct http_answer answer;

	if (listener < 0)
		snprintf(
		    url, sizeof(url), "http://127.0.0.1:%d/write", listen_somewhere());
	if (manner & 2) {
		check_question(url, input.at, input.left, keep);
		return 0;
	}
	struct http *http = http_open(
	    &(struct http_settings){.url = url, .timeout_s = 5, .give_up = no_more});

	MUST(http != NULL);
	size_t now = input.left - (late < input.left ? late : input.left);
	if (post(http, input.at, now, keep, &answer))
		check_answer(&answer, input.at, now);
	if (connection >= 0 && now < input.left)
		(void)send(connection, input.at + now, input.left - now, MSG_NOSIGNAL);
	if (post(http, (const uint8_t *)second, sizeof(second) - 1, false, &answer)) {
		MUST(answer.status == SECOND_STATUS);
		MUST(fabs(answer.retry_after_s - SECOND_RETRY_S) < 0.5);
	}
	http_close(http);
	hang_up();
	return 0;
}
