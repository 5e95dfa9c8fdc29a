/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/writing.h"

#include <assert.h>
#include <stdint.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/ledger/ledger.h"
#include "daemon/run/filing.h"
#include "daemon/run/waiting.h"

/* Of a reading: its ring is cut to what it may hold as of now. */
static int
put_reading(struct writing *writing, const struct pending *pending, struct error *error)
{
	const struct ledger_reading reading = {
	    .line = writing->settings->lines[pending->line].name,
	    .at = pending->at,
	    .bytes = pending->bytes,
	    .byte_count = pending->byte_count};
	struct wall keep_from = {clock_wall().ns - pending->keep_ns};

	return ledger_put_reading(
	    writing->ledger, pending->destination, &reading, keep_from, error);
}

int
writing_put(struct writing *writing, const struct pending *pending, struct error *error)
{
	const struct settings *settings = writing->settings;
	const char *line =
	    pending->line == FILING_LOGGER ? NULL : settings->lines[pending->line].name;
	int64_t setup;
	int rc;

	if (!writing->set_up) {
		rc = ledger_put_setup(
		    writing->ledger, settings, pending->at, &setup, error);
		if (rc != 0)
			return rc;
		writing->set_up = true;
	}
	switch (pending->kind) {
	case WAITING_SHOT:
		return ledger_put_shot(writing->ledger, settings, pending->shot, error);
	case WAITING_STANDING:
		return ledger_put_in_flight(writing->ledger, line, pending->bytes,
		    pending->byte_count, pending->at, error);
	case WAITING_EVENT:
		return ledger_put_event(writing->ledger, line, pending->at,
		    pending->word, pending->text, error);
	case WAITING_READING:
		return put_reading(writing, pending, error);
	case WAITING_KINDS:
		break;
	}
	assert(!"a kind");
	return ERROR_INVALID;
}
