/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/link.h"

#include <fcntl.h>
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>
#include <stdio.h>
#include <sys/resource.h>
#include <sys/select.h>
#include <cmocka.h>

#include "conf/register.h"
#include "conf/settings.h"
#include "daemon/base/clock.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/plan.h"
#include "tests/unit/daemon/fieldbus/server.h"

/* Lent until the next call. */
static const struct bus_settings *
bus_at(const char *host, int port)
{
	static struct bus_settings bus;

	bus = (struct bus_settings){.kind = BUS_TCP, .port = port};
	snprintf(bus.host, sizeof bus.host, "%s", host);
	snprintf(bus.name, sizeof bus.name, "%s:%d", host, port);
	return &bus;
}

static const double timeout_s = 0.15;

/* Lent until the next call. */
static const struct device_settings *
unit(int unit_id)
{
	static struct device_settings device;

	device = (struct device_settings){.unit_id = unit_id, .timeout_s = timeout_s};
	return &device;
}

static const struct read_block holding = {
    .table = TABLE_HOLDING, .first = 100, .count = 10};

static double
seconds_since(struct mono start)
{
	return (double)(clock_mono().ns - start.ns) / (double)CLOCK_SECOND_NS;
}

static void
expect_values(const uint16_t *words, int unit_id, const struct read_block *block)
{
	for (int i = 0; i < block->count; i++) {
		int address = block->first + i, function = (int)block->table + 1;

		assert_int_equal(
		    words[i], register_is_bit(block->table)
				  ? server_bit(unit_id, function, address)
				  : server_register(unit_id, function, address));
	}
}

static void
expect_read(struct link *link, int unit_id, const struct read_block *block)
{
	uint16_t words[PLAN_BITS_MAX];
	struct error error = {""};

	if (!link_is_ready(link) && link_open(link, timeout_s, &error))
		fail_msg("%s", error.text);
	if (link_read(link, unit(unit_id), block, words, &error))
		fail_msg("%s", error.text);
	expect_values(words, unit_id, block);
}

static void
every_table_is_read_up_to_its_maximum(void **state)
{
	struct server server;
	struct link *link;

	(void)state;
	server_start(&server);
	link = link_new(bus_at("127.0.0.1", server.port));
	for (int table = TABLE_COIL; table <= TABLE_INPUT; table++) {
		struct read_block block = {.table = (enum register_table)table};
		const int counts[] = {1, 2, 7, 8, 9, 125, 2000};

		for (size_t i = 0; i < sizeof counts / sizeof *counts; i++) {
			block.count = (uint16_t)counts[i];
			block.first = (uint16_t)(65536 - counts[i]);
			if (counts[i] <= 125 || register_is_bit(block.table))
				expect_read(link, (int)(1 + i), &block);
		}
	}
	assert_int_equal(server.connections, 1);
	link_free(link);
	server_stop(&server);
}

/* The transaction number has 16 bits. */
static void
more_requests_than_transaction_numbers_are_no_trouble(void **state)
{
	struct server server;
	struct link *link;

	(void)state;
	server_start(&server);
	link = link_new(bus_at("127.0.0.1", server.port));
	for (int i = 0; i < 66000; i++)
		expect_read(link, 1, &holding);
	assert_int_equal(server.connections, 1);
	link_free(link);
	server_stop(&server);
}

/* What a request may come to; false: it must fail. */
static bool
may_succeed(enum manner manner)
{
	return manner == MANNER_HONEST || manner == MANNER_CLOSING_AFTER ||
	       manner == MANNER_EXTRA_BYTES || manner == MANNER_TWICE ||
	       manner == MANNER_FRAGMENTS;
}

static void
try_manner(struct server *server, struct link *link, enum manner manner)
{
	uint16_t words[PLAN_BITS_MAX] = {0};
	struct error error = {""};
	struct mono start;
	enum answer result;

	expect_read(link, 3, &holding); /* connects */
	server_misbehave(server, manner, 1);
	start = clock_mono();
	result = link_read(link, unit(3), &holding, words, &error);
	assert_int_equal(result == ANSWER_GOOD, may_succeed(manner));
	if (result == ANSWER_GOOD)
		expect_values(words, 3, &holding);
	else
		assert_int_equal(words[0], 0);
	assert_true(seconds_since(start) < timeout_s + 0.1);
	server_misbehave(server, MANNER_HONEST, 0);
}

static void
a_wrong_answer_is_never_taken_and_the_next_one_is_right(void **state)
{
	struct server server;
	struct link *link;

	(void)state;
	server_start(&server);
	server.delay_ms = 200; /* more than the time-out: dripping has a total limit */
	link = link_new(bus_at("127.0.0.1", server.port));
	for (int manner = 0; manner < MANNER_COUNT; manner++) {
		/* While it drips or is late, the server of this test serves nobody. */
		if (manner == MANNER_DRIPPING)
			server.delay_ms = 20;
		try_manner(&server, link, (enum manner)manner);
		usleep(manner == MANNER_DRIPPING ? 600000 : 0);
		usleep(manner == MANNER_LATE ? 100000 : 20000);
		expect_read(link, 3, &holding);
		expect_read(link, 4, &holding);
	}
	link_free(link);
	server_stop(&server);
}

static void
a_time_out_is_told_with_its_length(void **state)
{
	struct server server;
	struct link *link;
	struct error error;
	uint16_t words[10];

	(void)state;
	server_start(&server);
	server.silent_unit = 9;
	link = link_new(bus_at("127.0.0.1", server.port));
	assert_int_equal(link_open(link, timeout_s, &error), 0);
	assert_int_equal(
	    link_read(link, unit(9), &holding, words, &error), ANSWER_NONE);
	assert_string_equal(error.text, "timed out after 150 ms");
	assert_false(link_is_ready(link));
	link_free(link);
	server_stop(&server);
}

static void
an_exception_names_the_registers_and_leaves_the_link_open(void **state)
{
	struct server server;
	struct link *link;
	struct error error;
	uint16_t words[10];

	(void)state;
	server_start(&server);
	server.hole_first = server.hole_last = 105;
	link = link_new(bus_at("127.0.0.1", server.port));
	assert_int_equal(link_open(link, timeout_s, &error), 0);
	assert_int_equal(
	    link_read(link, unit(1), &holding, words, &error), ANSWER_ILLEGAL);
	assert_string_equal(error.text,
	    "read holding 100..109: exception 2, illegal data address: check address "
	    "and holes");
	assert_true(link_is_ready(link));
	server_misbehave(&server, MANNER_GATEWAY_SILENT, 1);
	assert_int_equal(
	    link_read(link, unit(1), &holding, words, &error), ANSWER_GATEWAY);
	assert_true(link_is_ready(link));
	link_free(link);
	server_stop(&server);
}

static void
a_clock_at_a_rate_shortens_no_time_out(void **state)
{
	struct server server;
	struct link *link;
	struct error error;
	uint16_t words[10];

	(void)state;
	server_start(&server);
	server.delay_ms = 50;
	assert_int_equal(clock_run_at(480, (struct wall){0}, 0, &error), 0);
	link = link_new(bus_at("127.0.0.1", server.port));
	assert_int_equal(link_open(link, timeout_s, &error), 0);
	server_misbehave(&server, MANNER_LATE, 1);
	assert_int_equal(link_read(link, unit(1), &holding, words, &error), 0);
	assert_int_equal(clock_run_at(1, (struct wall){0}, 0, &error), 0);
	link_free(link);
	server_stop(&server);
}

/* --- connecting ------------------------------------------------------------------- */

static void
a_closed_port_is_refused_at_once(void **state)
{
	struct server server;
	struct link *link;
	struct error error;
	struct mono start;

	(void)state;
	server_start(&server);
	server_stop(&server); /* now nobody listens on its port */
	link = link_new(bus_at("127.0.0.1", server.port));
	start = clock_mono();
	assert_int_equal(link_open(link, 5, &error), ERROR_IO);
	assert_non_null(strstr(error.text, "Connection refused"));
	assert_true(seconds_since(start) < 1);
	link_free(link);
}

/* Linux drops the SYN when the queue of connections to accept is full. */
static void
a_host_that_drops_everything_costs_the_time_out(void **state)
{
	struct sockaddr_in address = {
	    .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t size = sizeof address;
	int fd = socket(AF_INET, SOCK_STREAM, 0), fillers[3];
	struct link *link;
	struct error error;
	struct mono start;

	(void)state;
	assert_int_equal(bind(fd, (struct sockaddr *)&address, size), 0);
	assert_int_equal(listen(fd, 0), 0);
	getsockname(fd, (struct sockaddr *)&address, &size);
	for (int i = 0; i < 3; i++) {
		fillers[i] = socket(AF_INET, SOCK_STREAM | SOCK_NONBLOCK, 0);
		connect(fillers[i], (struct sockaddr *)&address, size);
	}
	link = link_new(bus_at("127.0.0.1", ntohs(address.sin_port)));
	start = clock_mono();
	assert_int_equal(link_open(link, timeout_s, &error), ERROR_TIMEOUT);
	assert_non_null(strstr(error.text, "timed out after 150 ms"));
	assert_in_range(seconds_since(start) * 1000, 140, 300);
	link_free(link);
	for (int i = 0; i < 3; i++)
		close(fillers[i]);
	close(fd);
}

static void
a_name_is_looked_up_within_the_time_out(void **state)
{
	struct server server;
	struct link *link;
	struct error error;
	struct mono start = clock_mono();
	int result;

	(void)state;
	server_start(&server);
	link = link_new(bus_at("localhost", server.port));
	for (int i = 0; i < 10 && !link_is_ready(link); i++)
		link_open(link, 1, &error); /* a slow resolver is asked on */
	expect_read(link, 1, &holding);
	link_free(link);
	server_stop(&server);

	link = link_new(bus_at("no-such-host.invalid", 502)); /* RFC 2606 */
	start = clock_mono();
	result = link_open(link, timeout_s, &error);
	assert_true(result == ERROR_NOT_FOUND || result == ERROR_TIMEOUT);
	assert_non_null(strstr(error.text, "look up 'no-such-host.invalid'"));
	assert_true(seconds_since(start) < timeout_s + 0.1);
	link_free(link); /* perhaps while it is still being looked up */
}

/* libmodbus would end the process there. */
static void
a_descriptor_past_what_select_holds_is_an_error(void **state)
{
	struct rlimit limit, before;
	struct server server;
	struct link *link;
	struct error error;
	int first, last;

	(void)state;
	server_start(&server);
	getrlimit(RLIMIT_NOFILE, &before);
	limit = before;
	limit.rlim_cur = FD_SETSIZE + 16;
	if (limit.rlim_cur > limit.rlim_max || setrlimit(RLIMIT_NOFILE, &limit)) {
		server_stop(&server);
		skip();
	}
	first = last = open("/dev/null", O_RDONLY);
	while (last < FD_SETSIZE - 1)
		last = dup(first);
	link = link_new(bus_at("127.0.0.1", server.port));
	assert_int_equal(link_open(link, timeout_s, &error), ERROR_IO);
	assert_non_null(strstr(error.text, "Too many open files"));
	for (int fd = first; fd <= last; fd++)
		close(fd);
	setrlimit(RLIMIT_NOFILE, &before);
	expect_read(link, 1, &holding);
	link_free(link);
	server_stop(&server);
}

static void
a_connection_that_ended_between_two_reads_is_noticed(void **state)
{
	struct server server;
	struct link *link;

	(void)state;
	server_start(&server);
	link = link_new(bus_at("127.0.0.1", server.port));
	expect_read(link, 1, &holding);
	server_misbehave(&server, MANNER_CLOSING_AFTER, 1);
	expect_read(link, 1, &holding);
	usleep(20000);
	assert_false(link_is_ready(link));
	expect_read(link, 1, &holding);
	assert_int_equal(server.connections, 2);
	link_free(link);
	link_free(NULL);
	server_stop(&server);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(every_table_is_read_up_to_its_maximum),
	    cmocka_unit_test(more_requests_than_transaction_numbers_are_no_trouble),
	    cmocka_unit_test(a_wrong_answer_is_never_taken_and_the_next_one_is_right),
	    cmocka_unit_test(a_time_out_is_told_with_its_length),
	    cmocka_unit_test(an_exception_names_the_registers_and_leaves_the_link_open),
	    cmocka_unit_test(a_clock_at_a_rate_shortens_no_time_out),
	    cmocka_unit_test(a_closed_port_is_refused_at_once),
	    cmocka_unit_test(a_host_that_drops_everything_costs_the_time_out),
	    cmocka_unit_test(a_name_is_looked_up_within_the_time_out),
	    cmocka_unit_test(a_descriptor_past_what_select_holds_is_an_error),
	    cmocka_unit_test(a_connection_that_ended_between_two_reads_is_noticed),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
