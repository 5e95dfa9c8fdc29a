/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a Modbus TCP end point sends for an answer, through libmodbus and a socket.  The
 * first read is good only with the very bytes that answer it; whatever stands behind them
 * is not taken for the answer to the second.
 *
 * Input: how many registers; bit 0 puts in the transaction that was asked for, bit 1 keeps
 * the connection open behind the bytes; the bytes.
 */
#include "tests/fuzz/target.h"

#include <arpa/inet.h>
#include <pthread.h>
#include <stdatomic.h>
#include <sys/socket.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/link.h"
#include "daemon/fieldbus/plan.h"

enum { REQUEST = 12, SECOND_COUNT = 2, SECOND_WORD = 0x5aa5, SENT_MAX = 4096 };

/* What the server does with the next connection: the thread that reads has written it
 * before it connects. */
static struct {
	int listener;
	uint8_t bytes[SENT_MAX];
	size_t length;
	bool right_transaction, keep;
	uint8_t asked[REQUEST];
	atomic_bool answered;
} server;

static bool
take_request(int connection, uint8_t *request)
{
	return recv(connection, request, REQUEST, MSG_WAITALL) == REQUEST;
}

/* A right answer, from the second request on. */
static void
answer_right(int connection, const uint8_t *request)
{
	uint8_t reply[9 + 2 * SECOND_COUNT] = {request[0], request[1], 0, 0, 0,
	    3 + 2 * SECOND_COUNT, request[6], request[7], 2 * SECOND_COUNT};

	for (size_t i = 9; i < sizeof(reply); i++)
		reply[i] = i % 2 == 1 ? SECOND_WORD >> 8 : SECOND_WORD & 0xff;
	(void)send(connection, reply, sizeof(reply), MSG_NOSIGNAL);
}

/* One connection: the first request of a trial is answered with its bytes. */
static void
serve(int connection)
{
	uint8_t request[REQUEST];

	while (take_request(connection, request)) {
		if (atomic_exchange(&server.answered, true)) {
			answer_right(connection, request);
			continue;
		}
		memcpy(server.asked, request, REQUEST);
		if (server.right_transaction && server.length >= 2)
			memcpy(server.bytes, request, 2);
		if (send(connection, server.bytes, server.length, MSG_NOSIGNAL) < 0)
			return;
		if (!server.keep)
			shutdown(connection, SHUT_WR);
	}
}

static void *
run_server(void *arg)
{
	struct linger none = {.l_onoff = 1};

	(void)arg;
	for (;;) {
		int connection = accept(server.listener, NULL, NULL);

		MUST(connection >= 0);
		serve(connection);
		setsockopt(connection, SOL_SOCKET, SO_LINGER, &none, sizeof(none));
		close(connection);
	}
	return NULL;
}

static int
start_server(void)
{
	struct sockaddr_in address = {
	    .sin_family = AF_INET, .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	socklen_t size = sizeof(address);
	pthread_t thread;

	server.listener = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);
	MUST(server.listener >= 0);
	MUST(bind(server.listener, (struct sockaddr *)&address, size) == 0);
	MUST(listen(server.listener, 8) == 0);
	MUST(getsockname(server.listener, (struct sockaddr *)&address, &size) == 0);
	MUST(pthread_create(&thread, NULL, run_server, NULL) == 0);
	return ntohs(address.sin_port);
}

static bool
is_answer(const struct read_block *block)
{
	const uint8_t *bytes = server.bytes;
	size_t data = 2U * block->count;

	return server.length >= 9 + data && memcmp(bytes, server.asked, 2) == 0 &&
	       bytes[2] == 0 && bytes[3] == 0 &&
	       bytes[4] * 256U + bytes[5] == 3 + data && bytes[6] == server.asked[6] &&
	       bytes[7] == 3 && bytes[8] == data;
}

static void
read_first(struct link *link, const struct device_settings *device,
    const struct read_block *block)
{
	uint16_t words[125];
	struct error error = {""};

	memset(words, 0xee, sizeof(words));
	enum answer answer = link_read(link, device, block, words, &error);
	MUST(answer < ANSWER_COUNT);
	MUST(answer == ANSWER_GOOD || is_sentence(error.text, sizeof(error.text)));
	if (answer == ANSWER_GOOD)
		MUST(is_answer(block));
	for (size_t i = 0; i < 125; i++) {
		const uint8_t *bytes = server.bytes + 9 + 2 * i;

		MUST(words[i] == (answer == ANSWER_GOOD && i < block->count
					 ? bytes[0] * 256 + bytes[1]
					 : 0xeeee));
	}
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static struct bus_settings bus = {
	    .kind = BUS_TCP, .name = "bus", .host = "127.0.0.1"};
	struct device_settings device = {.unit_id = 1, .timeout_s = 0.02};
	struct input input = {bytes, length};
	struct read_block block = {
	    TABLE_HOLDING, 0x6b, (uint16_t)(1 + input_u8(&input) % 125)};
	struct read_block second = {TABLE_HOLDING, 7, SECOND_COUNT};
	uint16_t words[SECOND_COUNT];
	struct error error = {""};

	if (bus.port == 0)
		bus.port = start_server();
	uint8_t manner = input_u8(&input);
	server.right_transaction = manner & 1;
	server.keep = manner & 2;
	server.length = input.left < SENT_MAX ? input.left : SENT_MAX;
	if (server.length > 0)
		memcpy(server.bytes, input.at, server.length);
	atomic_store(&server.answered, false);
	struct link *link = link_new(&bus);

	MUST(link != NULL);
	MUST(link_open(link, 5, &error) == 0);
	read_first(link, &device, &block);
	device.timeout_s = 5;
	if (link_is_ready(link) || link_open(link, 5, &error) == 0)
		if (link_read(link, &device, &second, words, &error) == ANSWER_GOOD)
			MUST(words[0] == SECOND_WORD && words[1] == SECOND_WORD);
	link_free(link);
	return 0;
}
