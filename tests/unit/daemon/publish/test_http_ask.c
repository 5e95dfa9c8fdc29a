/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Questions to stores, and to whatever else may listen there. */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>
#include <cmocka.h>

#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <time.h>
#include <zlib.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/publish/http.h"
#include "tests/unit/daemon/publish/answering_server.h"

/* --- who asks --------------------------------------------------------------------- */

struct scene {
	double timeout_s;
	bool (*give_up)(void *arg);
	const char *form;
	size_t most; /* bytes until `take` ends it; 0: never */
	/* What came of it. */
	size_t bytes, largest;
	char start[64];
	struct http_answer answer;
	struct error error;
	double took_s;
};

static int
take(void *arg, const char *bytes, size_t count)
{
	struct scene *scene = arg;

	for (size_t i = 0; i < count && scene->bytes + i < sizeof(scene->start) - 1;
	     i++)
		scene->start[scene->bytes + i] = bytes[i];
	scene->bytes += count;
	if (count > scene->largest)
		scene->largest = count;
	return scene->most > 0 && scene->bytes >= scene->most;
}

static double
now_s(void)
{
	struct timespec time;

	clock_gettime(CLOCK_MONOTONIC, &time);
	return (double)time.tv_sec + 1e-9 * (double)time.tv_nsec;
}

static struct http *
open_http(const struct scene *scene)
{
	struct http *http = http_open(&(struct http_settings){
	    .url = "http://127.0.0.1:9/",
	    .timeout_s = scene->timeout_s > 0 ? scene->timeout_s : 20,
	    .give_up = scene->give_up,
	});

	assert_non_null(http);
	return http;
}

static int
ask_with(struct http *http, struct scene *scene)
{
	char url[64];

	snprintf(url, sizeof(url), "http://127.0.0.1:%d/query?db=plant", server.port);
	struct http_question question = {
	    .url = url, .form = scene->form, .take = take, .arg = scene};
	scene->bytes = scene->largest = 0;
	scene->error.text[0] = '\0';
	memset(scene->start, 0, sizeof(scene->start));
	double started_s = now_s();
	int code = http_ask(http, &question, &scene->answer, &scene->error);
	scene->took_s = now_s() - started_s;
	return code;
}

static int
ask(answer_function answer, struct scene *scene)
{
	server.answer = answer;
	struct http *http = open_http(scene);
	int code = ask_with(http, scene);
	http_close(http);
	return code;
}

/* --- the tests -------------------------------------------------------------------- */

static bool
answer_plainly(int fd)
{
	return send_text(
	    fd, "HTTP/1.1 200 OK\r\nContent-Length: 13\r\n\r\n{\"results\":[]");
}

static void
a_question_is_a_get_or_posts_its_form(void **state)
{
	struct scene scene = {0};
	(void)state;

	assert_int_equal(ask(answer_plainly, &scene), 0);
	assert_int_equal(scene.answer.status, 200);
	assert_string_equal(scene.start, "{\"results\":[]");
	assert_string_equal(scene.answer.text, ""); /* `take` had it */
	assert_memory_equal(server.request, "GET /query?db=plant HTTP/1.1\r\n", 30);
	assert_non_null(strstr(server.request, "Accept-Encoding: gzip"));

	scene = (struct scene){.form = "q=SHOW+x"};
	assert_int_equal(ask(answer_plainly, &scene), 0);
	assert_memory_equal(server.request, "POST /query?db=plant HTTP/1.1\r\n", 31);
	assert_non_null(strstr(server.request, "application/x-www-form-urlencoded"));
	assert_non_null(strstr(server.request, "\r\n\r\nq=SHOW+x"));
	assert_null(strstr(server.request, "Expect"));
}

static void
pairs_of_a_form_are_encoded(void **state)
{
	struct text form;
	(void)state;

	text_init(&form, 1024);
	http_add_pair(&form, "q", "SELECT \"a&b\" = 1+1");
	http_add_pair(&form, "match[]", "{x=~\"\xc3\xa4\"}");
	assert_string_equal(form.bytes, "q=SELECT%20%22a%26b%22%20%3D%201%2B1&"
					"match%5B%5D=%7Bx%3D~%22%C3%A4%22%7D");
	text_release(&form);
}

static void
one_connection_is_kept_for_many_questions(void **state)
{
	struct scene scene = {0};
	struct http *http = open_http(&scene);
	int before = server.connections;
	(void)state;

	server.answer = answer_plainly;
	for (int i = 0; i < 5; i++)
		assert_int_equal(ask_with(http, &scene), 0);
	assert_int_equal(server.connections - before, 1);
	http_close(http);
}

static bool
answer_refusal(int fd)
{
	return send_text(
	    fd, "HTTP/1.1 401 no\r\nContent-Length: 12\r\n\r\nwho\nare you?");
}

static void
a_refusal_is_an_answer_whose_words_are_kept(void **state)
{
	struct scene scene = {0};
	(void)state;

	assert_int_equal(ask(answer_refusal, &scene), 0);
	assert_int_equal(scene.answer.status, 401);
	assert_string_equal(scene.answer.text, "who are you?");
	assert_int_equal(scene.bytes, 0);
}

static bool
answer_elsewhere(int fd)
{
	return send_text(fd, "HTTP/1.1 302 Found\r\nLocation: http://127.0.0.1:1/\r\n"
			     "Content-Length: 0\r\n\r\n");
}

static void
a_redirect_is_not_followed_and_no_proxy_asked(void **state)
{
	struct scene scene = {0};
	(void)state;

	setenv("http_proxy", "http://127.0.0.1:1", 1);
	assert_int_equal(ask(answer_elsewhere, &scene), 0);
	assert_int_equal(scene.answer.status, 302);
	unsetenv("http_proxy");
}

static bool
answer_packed(int fd)
{
	enum { LENGTH = 3000000 };
	static char plain[LENGTH];
	static unsigned char packed[LENGTH / 2];
	char head[128];
	z_stream gzip = {0};

	memset(plain, 'x', sizeof(plain));
	memcpy(plain, "start", 5);
	deflateInit2(&gzip, 1, Z_DEFLATED, 15 + 16, 8, Z_DEFAULT_STRATEGY);
	gzip.next_in = (Bytef *)plain;
	gzip.avail_in = sizeof(plain);
	gzip.next_out = packed;
	gzip.avail_out = sizeof(packed);
	deflate(&gzip, Z_FINISH);
	snprintf(head, sizeof(head),
	    "HTTP/1.1 200 OK\r\nContent-Encoding: gzip\r\nContent-Length: %lu\r\n\r\n",
	    gzip.total_out);
	deflateEnd(&gzip);
	return send_text(fd, head) &&
	       send_bytes(fd, (const char *)packed, gzip.total_out);
}

static void
gzip_is_unpacked_piece_by_piece(void **state)
{
	struct scene scene = {0};
	(void)state;

	assert_int_equal(ask(answer_packed, &scene), 0);
	assert_int_equal(scene.bytes, 3000000);
	assert_memory_equal(scene.start, "startxxx", 8);
	assert_true(scene.largest <= 64 << 10);
}

/* Chunks without an end, as fast as they are taken. */
static bool
answer_without_end(int fd)
{
	static char chunk[65536 + 16];

	snprintf(chunk, sizeof(chunk), "10000\r\n");
	memset(chunk + 7, 'y', 65536);
	memcpy(chunk + 7 + 65536, "\r\n", 2);
	if (!send_text(fd, "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n"))
		return false;
	while (send_bytes(fd, chunk, 7 + 65536 + 2)) {
	}
	return false;
}

static void
an_answer_without_end_takes_no_memory_and_is_ended(void **state)
{
	struct scene scene = {.most = (size_t)300 << 20};
	struct rusage before, after;
	(void)state;

	getrusage(RUSAGE_SELF, &before);
	assert_int_equal(ask(answer_without_end, &scene), 0);
	getrusage(RUSAGE_SELF, &after);
	assert_int_equal(scene.answer.status, 200);
	assert_true(scene.bytes >= scene.most);
	assert_true(scene.bytes < scene.most + (64 << 10) + 1);
	assert_true(after.ru_maxrss - before.ru_maxrss < 4096); /* KiB */
}

/* The same to what is no 2xx, which `take` never gets. */
static bool
refuse_without_end(int fd)
{
	if (!send_text(fd, "HTTP/1.1 500 no\r\n\r\nwords"))
		return false;
	while (send_text(fd, " and more words and more words and more words")) {
	}
	return false;
}

static void
a_refusal_without_end_is_understood_all_the_same(void **state)
{
	struct scene scene = {0};
	(void)state;

	assert_int_equal(ask(refuse_without_end, &scene), 0);
	assert_int_equal(scene.answer.status, 500);
	assert_memory_equal(scene.answer.text, "words and more", 14);
	assert_true(scene.took_s < 15);
}

static bool
answer_headers_without_end(int fd)
{
	if (!send_text(fd, "HTTP/1.1 200 OK\r\n"))
		return false;
	while (send_text(fd, "X-Thing: of no use whatsoever, but there it is\r\n")) {
	}
	return false;
}

static bool
answer_continue_without_end(int fd)
{
	while (send_text(fd, "HTTP/1.1 100 Continue\r\n\r\n")) {
	}
	return false;
}

static bool
answer_one_long_header(int fd)
{
	if (!send_text(fd, "HTTP/1.1 200 OK\r\nX: "))
		return false;
	while (send_text(fd, "yyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyyy")) {
	}
	return false;
}

static void
headers_without_end_are_broken_off(void **state)
{
	const answer_function answers[] = {answer_headers_without_end,
	    answer_continue_without_end, answer_one_long_header};
	struct rusage before, after;
	(void)state;

	getrusage(RUSAGE_SELF, &before);
	for (size_t i = 0; i < sizeof(answers) / sizeof(answers[0]); i++) {
		struct scene scene = {0};
		int code = ask(answers[i], &scene);
		assert_int_equal(code, ERROR_IO);
		assert_non_null(
		    strstr(scene.error.text, "more than 65536 bytes of headers"));
		assert_true(scene.took_s < 15);
	}
	getrusage(RUSAGE_SELF, &after);
	assert_true(after.ru_maxrss - before.ru_maxrss < 4096); /* KiB */
}

static bool
answer_cut(int fd)
{
	(void)send_text(fd, "HTTP/1.1 200 OK\r\nContent-Length: 1000\r\n\r\nonly this");
	return false;
}

static bool
answer_chunks_cut(int fd)
{
	(void)send_text(fd,
	    "HTTP/1.1 200 OK\r\nTransfer-Encoding: chunked\r\n\r\n9\r\nonly this\r\n");
	return false;
}

static void
an_answer_that_is_cut_is_no_answer(void **state)
{
	const answer_function answers[] = {answer_cut, answer_chunks_cut};
	(void)state;

	for (size_t i = 0; i < sizeof(answers) / sizeof(answers[0]); i++) {
		struct scene scene = {0};
		assert_int_equal(ask(answers[i], &scene), ERROR_IO);
		assert_string_equal(scene.start, "only this");
		assert_memory_equal(scene.error.text, "ask 'http://127.0.0.1:", 22);
	}
}

/* Until who asked has gone: the next one's question waits for that. */
static bool
answer_nothing(int fd)
{
	char byte;

	for (int i = 0; i < 1000 && !server.stop; i++) {
		if (recv(fd, &byte, 1, MSG_PEEK | MSG_DONTWAIT) == 0)
			break;
		pause_ms(10);
	}
	return false;
}

static bool
answer_and_stand_still(int fd)
{
	(void)send_text(fd, "HTTP/1.1 200 OK\r\nContent-Length: 1000\r\n\r\nonly this");
	return answer_nothing(fd);
}

static void
who_stands_still_is_timed_out(void **state)
{
	const answer_function answers[] = {answer_nothing, answer_and_stand_still};
	(void)state;

	for (size_t i = 0; i < sizeof(answers) / sizeof(answers[0]); i++) {
		struct scene scene = {.timeout_s = 1};
		assert_int_equal(ask(answers[i], &scene), ERROR_TIMEOUT);
		assert_true(scene.took_s > 0.5 && scene.took_s < 9);
		stop_server(NULL); /* it is in its sleep still */
		assert_int_equal(start_server(NULL), 0);
	}
}

/* Three times the time-out for the whole, never as long between two pieces. */
static bool
answer_slowly(int fd)
{
	bool there = send_text(fd, "HTTP/1.1 200 OK\r\nContent-Length: 300\r\n\r\n");

	for (int i = 0; i < 30 && there; i++) {
		pause_ms(100);
		there = send_text(fd, "0123456789");
	}
	return there;
}

static void
who_is_slow_but_goes_on_is_waited_for(void **state)
{
	struct scene scene = {.timeout_s = 1};
	(void)state;

	assert_int_equal(ask(answer_slowly, &scene), 0);
	assert_int_equal(scene.bytes, 300);
	assert_true(scene.took_s > 2.5);
}

static bool
give_up(void *arg)
{
	(void)arg;
	return true;
}

static void
a_question_is_given_up_at_once(void **state)
{
	struct scene scene = {.give_up = give_up};
	(void)state;

	assert_int_equal(ask(answer_nothing, &scene), ERROR_BUSY);
	assert_true(scene.took_s < 5);
	stop_server(NULL);
	assert_int_equal(start_server(NULL), 0);
}

/* A second answer that nobody asked for stands in the connection. */
static bool
answer_twice(int fd)
{
	return answer_plainly(fd) &&
	       send_text(fd, "HTTP/1.1 200 OK\r\nContent-Length: 5\r\n\r\nwrong");
}

static void
an_answer_too_many_is_never_the_next_ones(void **state)
{
	struct scene scene = {0};
	struct http *http = open_http(&scene);
	(void)state;

	server.answer = answer_twice;
	for (int i = 0; i < 5; i++) {
		assert_int_equal(ask_with(http, &scene), 0);
		assert_string_equal(scene.start, "{\"results\":[]");
		pause_ms(20); /* until the second one has come */
	}
	http_close(http);
}

/* After `take` has ended one, the rest of it is not the next one's answer. */
static void
a_question_follows_one_that_was_ended(void **state)
{
	struct scene scene = {.most = 1};
	struct http *http = open_http(&scene);
	(void)state;

	server.answer = answer_without_end;
	assert_int_equal(ask_with(http, &scene), 0);
	server.answer = answer_plainly;
	scene.most = 0;
	assert_int_equal(ask_with(http, &scene), 0);
	assert_string_equal(scene.start, "{\"results\":[]");
	http_close(http);
}

static void
nobody_there_is_said(void **state)
{
	struct scene scene = {0};
	struct http *http = open_http(&scene);
	struct http_question question = {
	    .url = "http://127.0.0.1:1/query", .take = take, .arg = &scene};
	(void)state;

	assert_int_equal(
	    http_ask(http, &question, &scene.answer, &scene.error), ERROR_IO);
	assert_non_null(strstr(scene.error.text, "ask 'http://127.0.0.1:1/query': "));
	http_close(http);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_question_is_a_get_or_posts_its_form),
	    cmocka_unit_test(pairs_of_a_form_are_encoded),
	    cmocka_unit_test(one_connection_is_kept_for_many_questions),
	    cmocka_unit_test(a_refusal_is_an_answer_whose_words_are_kept),
	    cmocka_unit_test(a_redirect_is_not_followed_and_no_proxy_asked),
	    cmocka_unit_test(gzip_is_unpacked_piece_by_piece),
	    cmocka_unit_test(an_answer_without_end_takes_no_memory_and_is_ended),
	    cmocka_unit_test(a_refusal_without_end_is_understood_all_the_same),
	    cmocka_unit_test(headers_without_end_are_broken_off),
	    cmocka_unit_test(an_answer_that_is_cut_is_no_answer),
	    cmocka_unit_test(who_stands_still_is_timed_out),
	    cmocka_unit_test(who_is_slow_but_goes_on_is_waited_for),
	    cmocka_unit_test(a_question_is_given_up_at_once),
	    cmocka_unit_test(an_answer_too_many_is_never_the_next_ones),
	    cmocka_unit_test(a_question_follows_one_that_was_ended),
	    cmocka_unit_test(nobody_there_is_said),
	};
	return cmocka_run_group_tests(tests, start_server, stop_server);
}
