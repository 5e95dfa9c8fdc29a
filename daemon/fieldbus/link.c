/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/link.h"

#include <assert.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/fieldbus/frame.h"
#include "daemon/fieldbus/limit.h"
#include "daemon/fieldbus/link_serial.h"
#include "daemon/fieldbus/link_tcp.h"

struct link {
	const struct bus_settings *bus; /* lent */
	struct link_tcp *tcp;           /* one of the two */
	struct link_serial *serial;
	bool connected;
	struct limit gap; /* that the last device asked for */
	struct link_counts counts;
};

struct link *
link_new(const struct bus_settings *bus)
{
	struct link *link = calloc(1, sizeof *link);

	if (!link)
		return NULL;
	link->bus = bus;
	switch (bus->kind) {
	case BUS_TCP:
		link->tcp = link_tcp_new(bus);
		break;
	case BUS_SERIAL:
		link->serial = link_serial_new(bus);
		break;
	}
	if (link->tcp || link->serial)
		return link;
	free(link);
	return NULL;
}

static void
disconnect(struct link *link)
{
	if (!link->connected)
		return;
	if (link->tcp)
		link_tcp_close(link->tcp);
	else
		link_serial_close(link->serial);
	link->connected = false;
	link->counts.lost++;
}

void
link_free(struct link *link)
{
	if (!link)
		return;
	if (link->connected && link->serial)
		link_serial_linger(link->serial);
	disconnect(link);
	link_tcp_free(link->tcp);
	link_serial_free(link->serial);
	free(link);
}

bool
link_is_ready(struct link *link)
{
	if (link->connected && !(link->tcp ? link_tcp_is_well(link->tcp)
					   : link_serial_is_well(link->serial)))
		disconnect(link);
	return link->connected;
}

int
link_open(struct link *link, double timeout_s, struct error *error)
{
	int result;

	disconnect(link);
	result = link->tcp ? link_tcp_open(link->tcp, timeout_s, error)
	                   : link_serial_open(link->serial, timeout_s, error);
	if (result)
		return result;
	link->connected = true;
	link->counts.opened++;
	return 0;
}

/* Says which registers, for whoever has to look at their addresses. */
static void
prefix_block(const struct read_block *block, struct error *error)
{
	char text[32];

	frame_block_text(block, text, sizeof text);
	error_prefix(error, ERROR_REFUSED, "read %s", text);
}

/* What an answer says of the link. */
static void
take_answer(struct link *link, enum answer answer, const struct read_block *block,
    struct error *error)
{
	switch (answer) {
	case ANSWER_GOOD:
	case ANSWER_GATEWAY:
	case ANSWER_COUNT:
		break;
	case ANSWER_ILLEGAL:
	case ANSWER_BUSY:
	case ANSWER_FAULT:
		prefix_block(block, error);
		break;
	case ANSWER_NONE:
	case ANSWER_WRONG:
		if (link->tcp)
			disconnect(link);
		break;
	case ANSWER_LOST:
		disconnect(link);
		break;
	}
}

enum answer
link_read(struct link *link, const struct device_settings *device,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	double gap_s = device->gap_s;
	enum answer answer;

	assert(link->connected);
	limit_wait(&link->gap);
	if (link->tcp)
		answer = link_tcp_read(link->tcp, device, block, words, error);
	else
		answer = link_serial_read(link->serial, device, block, words, error);
	take_answer(link, answer, block, error);
	if (link->serial && link->connected) {
		double turn_s = link_serial_gap_s(link->serial);

		gap_s = gap_s > turn_s ? gap_s : turn_s;
	}
	link->gap = limit_from_now(gap_s);
	return answer;
}

struct link_counts
link_counts(const struct link *link)
{
	return link->counts;
}
