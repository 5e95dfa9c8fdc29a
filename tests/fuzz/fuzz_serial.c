/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a serial line carries for an answer, through libmodbus and a pseudo-terminal.  A read
 * is good only with words that came in a whole frame of that unit, function and length whose
 * check sum is right; else no word is touched.
 *
 * Input: how many registers; bit 0 puts the beginning of a right answer before the bytes, bit
 * 1 a right check sum behind them, bit 2 the request, as an adapter that echoes does; the
 * bytes.  Requests after the first are answered rightly.
 */
#include "tests/fuzz/target.h"

#include <fcntl.h>
#include <poll.h>
#include <pthread.h>
#include <stdatomic.h>
#include <termios.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/link.h"
#include "daemon/fieldbus/plan.h"

enum { REQUEST = 8, UNIT = 17, BYTES = 600, SAID = 8192, COUNT_MOST = 20 };

static const double timeout_s = 0.004;

/* The unit at the other end: who reads has written it before it asks. */
static struct {
	int master;
	uint8_t bytes[BYTES];
	size_t length;
	bool begun, summed, echoes;
	uint16_t count; /* of the block that the bytes are for */
	pthread_mutex_t lock;
	bool answered;
	uint8_t said[SAID]; /* all that went out since the trial began */
	size_t said_length;
} unit = {.lock = PTHREAD_MUTEX_INITIALIZER};

/* Modbus over Serial Line V1.02, 6.2.2, bit by bit. */
static uint16_t
sum(const uint8_t *bytes, size_t length)
{
	uint16_t crc = 0xffff;

	for (size_t i = 0; i < length; i++) {
		crc ^= bytes[i];
		for (int bit = 0; bit < 8; bit++)
			crc = (uint16_t)(crc & 1 ? crc >> 1 ^ 0xa001 : crc >> 1);
	}
	return crc;
}

static size_t
add_sum(uint8_t *frame, size_t from, size_t length)
{
	uint16_t crc = sum(frame + from, length - from);

	frame[length] = (uint8_t)(crc & 0xff);
	frame[length + 1] = (uint8_t)(crc >> 8);
	return length + 2;
}

static void
say(const uint8_t *bytes, size_t length)
{
	if (unit.said_length + length > SAID)
		return;
	memcpy(unit.said + unit.said_length, bytes, length);
	unit.said_length += length;
	(void)!write(unit.master, bytes, length);
}

/* The bytes of this trial, made into what was asked for as far as its bits say. */
static void
say_bytes(const uint8_t *request)
{
	uint8_t frame[REQUEST + 3 + BYTES + 2];
	size_t length = 0, from;

	if (unit.echoes) {
		memcpy(frame, request, REQUEST);
		length = REQUEST;
	}
	from = length;
	if (unit.begun) {
		memcpy(frame + length, request, 2);
		frame[length + 2] = (uint8_t)(2 * unit.count);
		length += 3;
	}
	memcpy(frame + length, unit.bytes, unit.length);
	length += unit.length;
	if (unit.summed)
		length = add_sum(frame, from, length);
	say(frame, length);
}

static void
say_rightly(const uint8_t *request)
{
	uint8_t frame[260] = {request[0], request[1], (uint8_t)(2 * request[5])};
	size_t length = 3 + 2U * request[5];

	if (unit.echoes)
		say(request, REQUEST);
	for (size_t i = 3; i < length; i++)
		frame[i] = (uint8_t)(i + request[3]);
	say(frame, add_sum(frame, 0, length));
}

/* Requests are of one length, and the port loses nothing. */
static void *
run_unit(void *arg)
{
	uint8_t request[REQUEST];
	size_t have = 0;

	(void)arg;
	for (;;) {
		ssize_t got = read(unit.master, request + have, REQUEST - have);

		if (got <= 0) {
			usleep(200);
			continue;
		}
		have += (size_t)got;
		if (have < REQUEST)
			continue;
		have = 0;
		pthread_mutex_lock(&unit.lock);
		bool ours = request[5] == unit.count && !unit.answered;
		unit.answered |= ours;
		if (ours)
			say_bytes(request);
		else if (2 * request[5] <= 250)
			say_rightly(request);
		pthread_mutex_unlock(&unit.lock);
	}
	return NULL;
}

static void
start_unit(struct bus_settings *bus)
{
	struct termios raw;
	pthread_t thread;

	unit.master = posix_openpt(O_RDWR | O_NOCTTY | O_CLOEXEC);
	MUST(unit.master >= 0);
	MUST(grantpt(unit.master) == 0 && unlockpt(unit.master) == 0);
	MUST(ptsname_r(unit.master, bus->path, sizeof bus->path) == 0);
	/* held open: the line outlives who reads it */
	int slave = open(bus->path, O_RDWR | O_NOCTTY | O_CLOEXEC);
	MUST(slave >= 0 && tcgetattr(slave, &raw) == 0);
	cfmakeraw(&raw);
	MUST(tcsetattr(slave, TCSANOW, &raw) == 0);
	MUST(pthread_create(&thread, NULL, run_unit, NULL) == 0);
}

/* Whether these words went out in a frame that answers the block. */
static bool
was_said(const struct read_block *block, const uint16_t *words)
{
	size_t data = 2U * block->count, length = 3 + data + 2;

	for (size_t at = 0; at + length <= unit.said_length; at++) {
		const uint8_t *frame = unit.said + at;
		bool same = frame[0] == UNIT && frame[1] == 3 && frame[2] == data;
		uint16_t crc = sum(frame, 3 + data);

		for (size_t i = 0; same && i < block->count; i++)
			same = words[i] == frame[3 + 2 * i] * 256 + frame[4 + 2 * i];
		if (same && frame[3 + data] == (crc & 0xff) &&
		    frame[4 + data] == crc >> 8)
			return true;
	}
	return false;
}

static void
read_block(struct link *link, const struct read_block *block)
{
	const struct device_settings device = {.unit_id = UNIT, .timeout_s = timeout_s};
	uint16_t words[125];
	struct error error = {""};

	memset(words, 0xee, sizeof(words));
	enum answer answer = link_read(link, &device, block, words, &error);
	MUST(answer < ANSWER_COUNT);
	MUST(answer == ANSWER_GOOD || is_sentence(error.text, sizeof(error.text)));
	pthread_mutex_lock(&unit.lock);
	MUST(answer != ANSWER_GOOD || was_said(block, words));
	pthread_mutex_unlock(&unit.lock);
	for (size_t i = answer == ANSWER_GOOD ? block->count : 0; i < 125; i++)
		MUST(words[i] == 0xeeee);
}

static void
set_trial(struct input *input)
{
	pthread_mutex_lock(&unit.lock);
	unit.count = (uint16_t)(2 + input_u8(input) % (COUNT_MOST - 1));
	uint8_t manner = input_u8(input);
	unit.begun = manner & 1;
	unit.summed = manner & 2;
	unit.echoes = manner & 4;
	unit.length = input->left < BYTES ? input->left : BYTES;
	if (unit.length > 0)
		memcpy(unit.bytes, input->at, unit.length);
	unit.answered = false;
	unit.said_length = 0;
	pthread_mutex_unlock(&unit.lock);
}

int
LLVMFuzzerTestOneInput(const uint8_t *bytes, size_t length)
{
	static struct bus_settings bus = {.kind = BUS_SERIAL,
	    .name = "bus",
	    .baud = 115200,
	    .parity = PARITY_NONE,
	    .stop_bits = 1};
	struct input input = {bytes, length};
	struct error error = {""};

	if (*bus.path == '\0')
		start_unit(&bus);
	set_trial(&input);
	const struct read_block block = {TABLE_HOLDING, 0x6b, unit.count};
	const struct read_block second = {TABLE_HOLDING, 7, COUNT_MOST + 1};
	struct link *link = link_new(&bus);

	MUST(link != NULL);
	MUST(link_open(link, timeout_s, &error) == 0);
	read_block(link, &block);
	if (link_is_ready(link) || link_open(link, timeout_s, &error) == 0)
		read_block(link, &second);
	link_free(link);
	return 0;
}
