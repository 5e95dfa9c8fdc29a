/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger_health.h"

#include <assert.h>

#include "daemon/base/error.h"
#include "daemon/ledger/ledger_inside.h"
#include "daemon/ledger/ledger_lock.h"

const char *
ledger_count_name(enum ledger_count count)
{
	static const char *const names[LEDGER_COUNTS] = {
	    [LEDGER_COUNT_SCANS] = "scans",
	    [LEDGER_COUNT_FAILURES] = "failures",
	    [LEDGER_COUNT_LATE] = "late",
	    [LEDGER_COUNT_OPENED] = "opened",
	    [LEDGER_COUNT_GOOD] = "good",
	    [LEDGER_COUNT_ILLEGAL] = "illegal",
	    [LEDGER_COUNT_BUSY] = "busy",
	    [LEDGER_COUNT_FAULT] = "fault",
	    [LEDGER_COUNT_GATEWAY] = "gateway",
	    [LEDGER_COUNT_NONE] = "none",
	    [LEDGER_COUNT_WRONG] = "wrong",
	    [LEDGER_COUNT_LOST] = "lost",
	};

	assert(count < LEDGER_COUNTS);
	return names[count];
}

static int
put_rows(struct ledger *ledger, const struct ledger_health *rows, size_t count,
    struct error *error)
{
	struct binding clear = ledger_bind(ledger, STATEMENT_CLEAR_HEALTH);
	int code = ledger_run(ledger, &clear, error);

	for (size_t i = 0; code == 0 && i < count; i++) {
		struct binding binding = ledger_bind(ledger, STATEMENT_PUT_HEALTH);
		bind_integer(&binding, (int64_t)i);
		bind_text(&binding, rows[i].subject);
		bind_text(&binding, rows[i].state);
		bind_text(&binding, rows[i].text);
		bind_integer(&binding, rows[i].since.ns);
		bind_integer(&binding, rows[i].at.ns);
		bind_integer(&binding, rows[i].good);
		bind_integer(&binding, rows[i].bad);
		if (ledger_lock_own_run() != 0)
			bind_integer(&binding, ledger_lock_own_run());
		else
			bind_null(&binding);
		code = ledger_run(ledger, &binding, error);
	}
	return code;
}

/* In the order of the table's columns. */
static int
put_device(struct ledger *ledger, size_t position, const struct ledger_device *device,
    struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_DEVICE);

	bind_integer(&binding, (int64_t)position);
	bind_text(&binding, device->device);
	bind_text(&binding, device->line);
	bind_text(&binding, device->bus);
	bind_text(&binding, device->state);
	bind_label(&binding, device->why);
	bind_integer(&binding, device->since.ns);
	bind_integer(&binding, device->at.ns);
	for (int i = 0; i < LEDGER_COUNTS; i++)
		bind_integer(&binding, device->counts[i]);
	bind_number(&binding, device->late_p99_s);
	bind_number(&binding, device->late_worst_s);
	bind_label(&binding, device->port);
	bind_number(&binding, device->period_s);
	bind_integer(&binding, device->state_since.ns);
	bind_integer(&binding, device->bad_channels);
	bind_integer(&binding, device->bad_since.ns);
	bind_label(&binding, device->bad_text);
	bind_integer(&binding, device->recent_since.ns);
	for (int i = LEDGER_COUNT_GOOD; i < LEDGER_COUNTS; i++)
		bind_integer(&binding, device->recent[i]);
	return ledger_run(ledger, &binding, error);
}

static int
put_devices(struct ledger *ledger, const struct ledger_device *devices, size_t count,
    struct error *error)
{
	struct binding clear = ledger_bind(ledger, STATEMENT_CLEAR_DEVICES);
	int code = ledger_run(ledger, &clear, error);

	for (size_t i = 0; code == 0 && i < count; i++)
		code = put_device(ledger, i, &devices[i], error);
	return code;
}

/* Soft: the next rows replace them in any case. */
int
ledger_put_health(struct ledger *ledger, const struct ledger_health *rows, size_t count,
    const struct ledger_device *devices, size_t device_count, struct error *error)
{
	int code = ledger_begin_soft(ledger, error);

	if (code != 0)
		return code;
	code = put_rows(ledger, rows, count, error);
	if (code == 0)
		code = put_devices(ledger, devices, device_count, error);
	return ledger_end_soft(ledger, code, error);
}

/* In the order of the table's columns.  Soft: the next one replaces it. */
int
ledger_put_logger(
    struct ledger *ledger, const struct ledger_logger *logger, struct error *error)
{
	const int64_t numbers[] = {logger->started.ns, logger->at.ns, logger->polls,
	    logger->failures, logger->late, logger->queue, logger->queue_most,
	    logger->dropped, logger->waiting, logger->lost, logger->filed,
	    logger->clock_steps, logger->memory_bytes, logger->ledger_bytes,
	    logger->free_bytes};
	int code = ledger_begin_soft(ledger, error);

	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_LOGGER);
	bind_text(&binding, logger->host);
	bind_text(&binding, logger->version);
	for (size_t i = 0; i < sizeof numbers / sizeof numbers[0]; i++)
		bind_integer(&binding, numbers[i]);
	return ledger_end_soft(ledger, ledger_run(ledger, &binding, error), error);
}
