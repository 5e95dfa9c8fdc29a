/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * A store for tests: an HTTP server in a thread of its own that keeps the lines it
 * takes and does to each request what a script says.  One connection at a time that lines
 * come over, one for questions beside it.
 */
#ifndef TESTS_UNIT_DAEMON_PUBLISH_SCRIPTED_STORE_H
#define TESTS_UNIT_DAEMON_PUBLISH_SCRIPTED_STORE_H

#include <arpa/inet.h>
#include <assert.h>
#include <netinet/in.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <time.h>
#include <unistd.h>
#include <zlib.h>

#include "daemon/base/text.h"

enum manner {
	MANNER_ANSWER,      /* with `status`; 2xx and 400 keep the good lines */
	MANNER_CUT,         /* keeps the lines, closes in the middle of the answer */
	MANNER_CLOSE,       /* closes without an answer and keeps nothing */
	MANNER_SILENT,      /* keeps the lines and says nothing for a long time */
	MANNER_ANSWER_ONLY, /* with `status`, keeps nothing */
	MANNER_LAST,        /* keeps the lines, answers, and closes the connection */
	MANNER_DIE,         /* is killed before it answers */
};

enum { SCRIPTED_TAKEN = 8192 };

struct reply {
	enum manner manner;
	int status;
	int retry_after_s;
	const char *body;
};

struct scripted_store {
	int listener, port;
	int asking; /* a second connection, for questions; -1: none */
	pthread_t thread;
	_Atomic bool stop;

	/* What it does: `request` counts from 0.  NULL: takes everything. */
	struct reply (*script)(void *arg, int request, const char *lines);
	void *arg;
	const char *bad;        /* a line with this in it is refused; NULL: none */
	double forgets_s;       /* when it is killed, what it took so lately */
	_Atomic bool hides;     /* its kills: a proxy before it keeps the connections */
	_Atomic int ask_status; /* answers questions so; 0: with what it has */
	_Atomic int asks;       /* that it got */
	char question[8192];    /* the last one */
	_Atomic bool killed;    /* set it: it is, and starts again at once */

	/* What it saw; read it between requests only. */
	_Atomic int requests, connections;
	size_t longest; /* lines of a request */
	struct text kept;
	char head[2048]; /* of the last request */
	_Atomic int kills;

	/* What it has taken lately: how much was kept before, and when. */
	struct {
		size_t length;
		double at_s;
	} taken[SCRIPTED_TAKEN];
	size_t taken_count;
};

static inline double
scripted_now_s(void)
{
	struct timespec now;

	clock_gettime(CLOCK_MONOTONIC, &now);
	return (double)now.tv_sec + 1e-9 * (double)now.tv_nsec;
}

static inline void
scripted_note_taken(struct scripted_store *store)
{
	double now_s = scripted_now_s();
	size_t old = 0;

	if (store->forgets_s <= 0)
		return;
	while (old < store->taken_count &&
	       store->taken[old].at_s + store->forgets_s <= now_s)
		old++;
	store->taken_count -= old;
	memmove(store->taken, store->taken + old,
	    store->taken_count * sizeof(store->taken[0]));
	assert(store->taken_count < SCRIPTED_TAKEN);
	store->taken[store->taken_count].length = store->kept.length;
	store->taken[store->taken_count++].at_s = now_s;
}

/* Dies and comes back without what it has not had time to write. */
static inline void
scripted_die(struct scripted_store *store)
{
	double now_s = scripted_now_s();

	for (size_t i = 0; i < store->taken_count; i++) {
		if (store->taken[i].at_s + store->forgets_s <= now_s)
			continue;
		store->kept.length = store->taken[i].length;
		if (store->kept.bytes != NULL)
			store->kept.bytes[store->kept.length] = '\0';
		break;
	}
	store->taken_count = 0;
	store->kills++;
	store->killed = false;
}

static inline void
scripted_keep(struct scripted_store *store, const char *lines, bool *refused)
{
	*refused = false;
	scripted_note_taken(store);
	while (*lines != '\0') {
		const char *end = strchr(lines, '\n');
		assert(end != NULL);
		size_t length = (size_t)(end - lines) + 1;
		if (store->bad != NULL &&
		    memmem(lines, length, store->bad, strlen(store->bad)))
			*refused = true;
		else if (strncmp(lines, "probe,", 6) != 0)
			text_add(&store->kept, lines, length);
		assert(!store->kept.failed); /* else it loses what it takes */
		lines += length;
	}
}

/* The body of gzip bytes, malloc'ed and NUL-terminated. */
static inline char *
scripted_unpack(const char *packed, size_t length)
{
	enum { ROOM = 16 << 20 };
	char *body = malloc(ROOM);
	char *bytes = malloc(length);
	z_stream gzip = {0};

	assert(body != NULL && bytes != NULL);
	memcpy(bytes, packed, length);
	gzip.next_in = (Bytef *)bytes;
	gzip.avail_in = (uInt)length;
	gzip.next_out = (Bytef *)body;
	gzip.avail_out = ROOM - 1;
	int code = inflateInit2(&gzip, 15 + 16);
	assert(code == Z_OK);
	code = inflate(&gzip, Z_FINISH);
	assert(code == Z_STREAM_END);
	body[gzip.total_out] = '\0';
	inflateEnd(&gzip);
	free(bytes);
	return body;
}

/* One line of JSON for each point of a measurement that is asked for, as an export tells it. */
static inline void
scripted_add_series(struct text *answer, const char *line, size_t length)
{
	static const struct {
		const char *begins, *number, *kind, *metric, *label;
	} asked[] = {
	    {"shot,", " shot_no=", ",revision=", "shot_shot_no", "revision"},
	    {"event,", " count=", ",kind=", "event_count", "kind"},
	    {"shift_total,", " shots=", ",revision=", "shift_total_shots", "revision"},
	};
	char point[8192], *number, *kind, *end;
	size_t i = 0;

	while (i < 3 && strncmp(line, asked[i].begins, strlen(asked[i].begins)) != 0)
		i++;
	if (length >= sizeof(point) || i == 3)
		return;
	memcpy(point, line, length);
	point[length] = '\0';
	char *name = strstr(point, ",line=");
	number = strstr(point, asked[i].number);
	kind = strstr(point, asked[i].kind);
	if (name == NULL || number == NULL || kind == NULL)
		return; /* a mark */
	int64_t ns = strtoll(strrchr(point, ' '), NULL, 10);
	*number = '\0';
	name += 6;
	kind += strlen(asked[i].kind);
	if ((end = strchr(name, ',')) != NULL)
		*end = '\0';
	if ((end = strchr(kind, ',')) != NULL)
		*end = '\0';
	text_printf(answer,
	    "{\"metric\":{\"__name__\":\"%s\",\"line\":\"%s\",\"%s\":\"%s\"},"
	    "\"values\":[1],\"timestamps\":[%lld]}\n",
	    asked[i].metric, name, asked[i].label, kind, (long long)(ns / 1000000));
}

/* To a question: all that it has, whatever was asked. */
static inline void
scripted_tell(struct scripted_store *store, int fd, const char *head)
{
	struct text answer, body;
	int status = store->ask_status != 0 ? store->ask_status : 200;

	snprintf(store->question, sizeof(store->question), "%s", head);
	store->asks++;
	text_init(&body, 64 << 20);
	text_init(&answer, 64 << 20);
	for (const char *line = store->kept.bytes, *end;
	     line != NULL && status == 200 && (end = strchr(line, '\n')) != NULL;
	     line = end + 1)
		scripted_add_series(&body, line, (size_t)(end - line));
	text_printf(&answer, "HTTP/1.1 %d X\r\nContent-Length: %zu\r\n\r\n%s", status,
	    body.length, body.bytes != NULL ? body.bytes : "");
	(void)!send(fd, answer.bytes, answer.length, MSG_NOSIGNAL);
	text_release(&body);
	text_release(&answer);
}

/* What comes over the other connection: questions only, each in one piece. */
static inline void
scripted_hear(struct scripted_store *store)
{
	char head[8192];
	ssize_t got = read(store->asking, head, sizeof(head) - 1);

	if (got <= 0) {
		close(store->asking);
		store->asking = -1;
		return;
	}
	head[got] = '\0';
	assert(strncmp(head, "GET ", 4) == 0 && strstr(head, "\r\n\r\n") != NULL);
	scripted_tell(store, store->asking, head);
}

static inline bool
scripted_wait(struct scripted_store *store, int fd)
{
	while (!store->stop && (!store->killed || store->hides)) {
		int other = store->asking >= 0 ? store->asking : store->listener;
		struct pollfd ready[] = {{fd, POLLIN, 0}, {other, POLLIN, 0}};
		if (store->killed)
			scripted_die(store);
		poll(ready, store->hides && other != fd ? 2 : 1, 5);
		if (ready[0].revents != 0)
			return true;
		if (ready[1].revents == 0 || other == fd)
			continue;
		if (store->asking >= 0)
			scripted_hear(store);
		else
			store->asking = accept(store->listener, NULL, NULL);
	}
	return false;
}

/* Reads one request; the lines of it, or NULL when the other side is gone. */
static inline char *
scripted_read(struct scripted_store *store, int fd)
{
	struct text bytes;
	char buffer[65536];
	char *lines = NULL, *end;

	text_init(&bytes, 16 << 20);
	while (scripted_wait(store, fd)) {
		ssize_t got = read(fd, buffer, sizeof(buffer));
		if (got <= 0)
			break;
		text_add(&bytes, buffer, (size_t)got);
		end = memmem(bytes.bytes, bytes.length, "\r\n\r\n", 4);
		if (end == NULL)
			continue;
		*end = '\0';
		if (strncmp(bytes.bytes, "GET ", 4) == 0) {
			scripted_tell(store, fd, bytes.bytes);
			text_clear(&bytes);
			continue;
		}
		const char *field = strcasestr(bytes.bytes, "Content-Length: ");
		assert(field != NULL);
		size_t body = strtoul(field + 16, NULL, 10);
		size_t head = (size_t)(end - bytes.bytes) + 4;
		snprintf(store->head, sizeof(store->head), "%s", bytes.bytes);
		*end = '\r';
		if (bytes.length < head + body)
			continue;
		lines = scripted_unpack(bytes.bytes + head, body);
		break;
	}
	text_release(&bytes);
	return lines;
}

static inline void
scripted_send(int fd, const char *bytes, size_t length)
{
	(void)!send(fd, bytes, length, MSG_NOSIGNAL);
}

/* Answers one request; false when the connection is to be closed. */
static inline bool
scripted_answer(struct scripted_store *store, int fd, const char *lines)
{
	int request = store->requests;
	struct reply reply = {.manner = MANNER_ANSWER, .status = 204};
	char answer[1024];
	bool refused = false;
	size_t count = 0;

	for (const char *c = lines; *c != '\0'; c++)
		count += *c == '\n';
	if (count > store->longest)
		store->longest = count;
	if (store->script != NULL)
		reply = store->script(store->arg, request, lines);
	if (reply.manner == MANNER_CUT || reply.manner == MANNER_SILENT ||
	    reply.manner == MANNER_LAST ||
	    (reply.manner == MANNER_ANSWER && reply.status / 100 == 2))
		scripted_keep(store, lines, &refused);
	if (refused) {
		reply.status = 400;
		reply.body = "{\"error\":\"partial write: \\\"bad\\\" dropped=1\"}\n";
	}
	store->requests++;

	const char *body = reply.body != NULL ? reply.body : "";
	char later[64] = "";
	if (reply.retry_after_s > 0)
		snprintf(
		    later, sizeof(later), "Retry-After: %d\r\n", reply.retry_after_s);
	int length = snprintf(answer, sizeof(answer),
	    "HTTP/1.1 %d X\r\n%sContent-Length: %zu\r\n\r\n%s", reply.status, later,
	    strlen(body), body);
	switch (reply.manner) {
	case MANNER_ANSWER:
	case MANNER_ANSWER_ONLY:
		scripted_send(fd, answer, (size_t)length);
		return true;
	case MANNER_LAST:
		scripted_send(fd, answer, (size_t)length);
		return false;
	case MANNER_CUT:
		scripted_send(fd, answer, 12);
		return false;
	case MANNER_CLOSE:
		return false;
	case MANNER_DIE:
		store->killed = true;
		return false;
	case MANNER_SILENT:
		/* Until the other side has had enough. */
		for (int i = 0; i < 300 && !store->stop; i++) {
			if (recv(fd, answer, 1, MSG_PEEK | MSG_DONTWAIT) == 0)
				break;
			usleep(10000);
		}
		return false;
	}
	return false;
}

static inline void *
scripted_run(void *arg)
{
	struct scripted_store *store = arg;

	while (!store->stop) {
		if (store->killed)
			scripted_die(store);
		if (!scripted_wait(store, store->listener))
			continue;
		int fd = accept(store->listener, NULL, NULL);
		char *lines;
		bool more = true;
		assert(fd >= 0);
		store->connections++;
		while (more && (lines = scripted_read(store, fd)) != NULL) {
			more = scripted_answer(store, fd, lines);
			free(lines);
		}
		close(fd); /* before it dies, so that nobody relies on it meanwhile */
	}
	return NULL;
}

/* Listens on a free port and serves; everything else is zeroed. */
static inline void
scripted_start(struct scripted_store *store)
{
	struct sockaddr_in at = {.sin_family = AF_INET};
	socklen_t length = sizeof(at);

	memset(store, 0, sizeof(*store));
	text_init(&store->kept, 64 << 20);
	store->asking = -1;
	at.sin_addr.s_addr = htonl(INADDR_LOOPBACK);
	store->listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	int code = bind(store->listener, (struct sockaddr *)&at, sizeof(at));
	assert(code == 0);
	code = listen(store->listener, 8);
	assert(code == 0);
	getsockname(store->listener, (struct sockaddr *)&at, &length);
	store->port = ntohs(at.sin_port);
	code = pthread_create(&store->thread, NULL, scripted_run, store);
	assert(code == 0);
}

static inline void
scripted_stop(struct scripted_store *store)
{
	store->stop = true;
	pthread_join(store->thread, NULL);
	close(store->listener);
	if (store->asking >= 0)
		close(store->asking);
	text_release(&store->kept);
}

#endif
