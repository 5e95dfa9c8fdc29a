/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What each misbehaviour over TCP comes to, and what becomes of the connection. */
#include "daemon/fieldbus/link.h"

#include <dirent.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <cmocka.h>

#include "conf/settings.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/plan.h"
#include "tests/unit/daemon/fieldbus/server.h"

static const struct read_block holding = {
    .table = TABLE_HOLDING, .first = 100, .count = 10};
static const struct read_block other = {
    .table = TABLE_HOLDING, .first = 300, .count = 10}; /* as long */

static struct server server;
static struct bus_settings bus;
static struct device_settings device;
static struct link *tcp;
static struct error error;
static uint16_t words[PLAN_BITS_MAX];

static int
begin(void **state)
{
	(void)state;
	server_start(&server);
	bus = (struct bus_settings){.kind = BUS_TCP, .port = server.port};
	snprintf(bus.host, sizeof bus.host, "127.0.0.1");
	device = (struct device_settings){.unit_id = 3, .timeout_s = 0.15};
	tcp = link_new(&bus);
	return link_open(tcp, 1, &error);
}

static int
end(void **state)
{
	(void)state;
	link_free(tcp);
	server_stop(&server);
	return 0;
}

static double
seconds_since(struct mono start)
{
	return (double)(clock_mono().ns - start.ns) / (double)CLOCK_SECOND_NS;
}

/* Connects if need be. */
static enum answer
read_block(const struct read_block *block)
{
	if (!link_is_ready(tcp) && link_open(tcp, 1, &error))
		fail_msg("%s", error.text);
	memset(words, 0x5A, sizeof words);
	return link_read(tcp, &device, block, words, &error);
}

static void
expect_right(const struct read_block *block)
{
	if (read_block(block) != ANSWER_GOOD)
		fail_msg("%s", error.text);
	for (int i = 0; i < block->count; i++)
		assert_int_equal(
		    words[i], server_register(device.unit_id, 3, block->first + i));
}

static const struct {
	enum manner manner;
	enum answer answer;
	const char *text;
} rows[] = {
    {MANNER_HONEST, ANSWER_GOOD, ""},
    {MANNER_FRAGMENTS, ANSWER_GOOD, ""},
    {MANNER_LATE, ANSWER_NONE, "timed out after 150 ms"},
    {MANNER_SILENT, ANSWER_NONE, "timed out after 150 ms"},
    {MANNER_DRIPPING, ANSWER_NONE, "timed out after 150 ms"},
    {MANNER_TRUNCATED, ANSWER_NONE, "timed out after 150 ms"},
    {MANNER_HALF, ANSWER_NONE, "timed out after 150 ms"},
    {MANNER_CLOSING, ANSWER_LOST, "the device closed the connection"},
    {MANNER_WRONG_TRANSACTION, ANSWER_WRONG, "reply out of step: transaction "},
    {MANNER_WRONG_PROTOCOL, ANSWER_WRONG, "reply out of step: protocol 1 in place"},
    {MANNER_WRONG_LENGTH, ANSWER_WRONG, "reply out of step: length 24 in place of 23"},
    {MANNER_WRONG_UNIT, ANSWER_WRONG, "reply out of step: unit id 4 in place of 3"},
    {MANNER_WRONG_FUNCTION, ANSWER_WRONG,
	"reply out of step: function 4 in place of 3"},
    {MANNER_WRONG_BYTE_COUNT, ANSWER_WRONG, "reply out of step: "},
    {MANNER_ONE_TOO_FEW, ANSWER_WRONG,
	"reply out of step: byte count 18 in place of 20"},
    {MANNER_ONE_TOO_MANY, ANSWER_WRONG,
	"reply out of step: byte count 22 in place of 20"},
    {MANNER_GATEWAY_SILENT, ANSWER_GATEWAY, "exception 11, no answer to the gateway"},
};

static void
each_misbehaviour_is_told_by_what_it_is(void **state)
{
	(void)state;
	for (size_t i = 0; i < sizeof rows / sizeof *rows; i++) {
		struct mono start;
		bool stays =
		    rows[i].answer == ANSWER_GOOD || rows[i].answer == ANSWER_GATEWAY;

		expect_right(&holding);
		server.delay_ms = rows[i].manner == MANNER_LATE ? 200 : 20;
		server_misbehave(&server, rows[i].manner, 1);
		start = clock_mono();
		error.text[0] = '\0';
		assert_int_equal(read_block(&holding), rows[i].answer);
		assert_true(seconds_since(start) < device.timeout_s + 0.1);
		assert_ptr_equal(strstr(error.text, rows[i].text), error.text);
		assert_int_equal(words[0] == 0x5A5A, rows[i].answer != ANSWER_GOOD);
		assert_int_equal(link_is_ready(tcp), stays);
		if (rows[i].manner == MANNER_DRIPPING) /* it serves nobody meanwhile */
			usleep(600000);
		usleep(rows[i].manner == MANNER_LATE ? 100000 : 0);
		expect_right(&other);
	}
}

/* Without another connection the next read would get it, and so on for ever. */
static void
a_late_reply_is_not_the_next_ones(void **state)
{
	(void)state;
	for (int late_ms = 160; late_ms < 600; late_ms += 80) {
		server.delay_ms = late_ms;
		server_misbehave(&server, MANNER_LATE, 1);
		assert_int_equal(read_block(&holding), ANSWER_NONE);
		device.timeout_s = 1; /* the server of this test serves one by one */
		for (int i = 0; i < 3; i++) {
			expect_right(&other);
			expect_right(&holding);
		}
		device.timeout_s = 0.15;
	}
}

static void
a_reply_that_comes_twice_is_believed_once(void **state)
{
	static const enum manner manners[] = {MANNER_TWICE, MANNER_EXTRA_BYTES};

	(void)state;
	for (size_t i = 0; i < 2; i++) {
		server_misbehave(&server, manners[i], 1);
		expect_right(&holding);
		usleep(20000);
		assert_false(link_is_ready(tcp)); /* what lies there is nobody's */
		expect_right(&other);
	}
	assert_int_equal(server.connections, 3);
	assert_int_equal(link_counts(tcp).opened, 3);
	assert_int_equal(link_counts(tcp).lost, 2);
}

static void
exceptions_are_told_by_their_meaning_and_leave_the_link_open(void **state)
{
	static const enum answer meanings[16] = {ANSWER_FAULT, ANSWER_ILLEGAL,
	    ANSWER_ILLEGAL, ANSWER_ILLEGAL, ANSWER_FAULT, ANSWER_BUSY, ANSWER_BUSY,
	    ANSWER_FAULT, ANSWER_FAULT, ANSWER_FAULT, ANSWER_GATEWAY, ANSWER_GATEWAY,
	    ANSWER_FAULT, ANSWER_FAULT, ANSWER_FAULT, ANSWER_FAULT};

	(void)state;
	for (int code = 0; code < 16; code++) {
		server.exception = code;
		server_misbehave(&server, MANNER_EXCEPTION, 1);
		assert_int_equal(read_block(&holding), meanings[code]);
		assert_true(link_is_ready(tcp));
		expect_right(&other);
	}
	assert_int_equal(server.connections, 1);
}

static void
the_next_request_waits_for_the_devices_gap(void **state)
{
	struct mono start;

	(void)state;
	device.gap_s = 0.05;
	expect_right(&holding);
	start = clock_mono();
	device.gap_s = 0;
	expect_right(&holding);
	assert_in_range(seconds_since(start) * 1000, 49, 140);
	start = clock_mono();
	expect_right(&holding);
	assert_true(seconds_since(start) < 0.045);
}

/* The link's socket, among this process's descriptors. */
static int
find_socket(void)
{
	DIR *folder = opendir("/proc/self/fd");
	struct dirent *entry;
	int found = -1;

	assert_non_null(folder);
	while ((entry = readdir(folder))) {
		struct sockaddr_in peer;
		socklen_t size = sizeof peer;
		int fd = (int)strtol(entry->d_name, NULL, 10);

		if (getpeername(fd, (struct sockaddr *)&peer, &size) == 0 &&
		    peer.sin_family == AF_INET && ntohs(peer.sin_port) == server.port)
			found = fd;
	}
	closedir(folder);
	return found;
}

static int
option(int fd, int level, int name)
{
	int value = -1;
	socklen_t size = sizeof value;

	assert_int_equal(getsockopt(fd, level, name, &value, &size), 0);
	return value;
}

/* A device that lost its power, between two requests a minute apart. */
static void
a_connection_at_rest_is_kept_alive(void **state)
{
	int fd = find_socket();

	(void)state;
	assert_true(fd >= 0);
	assert_int_equal(option(fd, SOL_SOCKET, SO_KEEPALIVE), 1);
	assert_int_equal(option(fd, IPPROTO_TCP, TCP_KEEPIDLE) +
			     option(fd, IPPROTO_TCP, TCP_KEEPINTVL) *
				 option(fd, IPPROTO_TCP, TCP_KEEPCNT),
	    30);
	assert_int_equal(option(fd, IPPROTO_TCP, TCP_NODELAY), 1);
}

#define test_on_a_link(name) cmocka_unit_test_setup_teardown(name, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    test_on_a_link(each_misbehaviour_is_told_by_what_it_is),
	    test_on_a_link(a_late_reply_is_not_the_next_ones),
	    test_on_a_link(a_reply_that_comes_twice_is_believed_once),
	    test_on_a_link(
		exceptions_are_told_by_their_meaning_and_leave_the_link_open),
	    test_on_a_link(the_next_request_waits_for_the_devices_gap),
	    test_on_a_link(a_connection_at_rest_is_kept_alive),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
