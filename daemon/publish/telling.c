/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/telling.h"

#include <math.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/publish/http.h"
#include "daemon/publish/line_protocol.h"
#include "daemon/publish/store.h"

enum { LINES_BYTES_MAX = 1 << 20 };

/* The counts that a device's last point told. */
struct told {
	char device[SETTINGS_NAME];
	struct wall since; /* counted from here on */
	int64_t scans, failures;
};

struct telling {
	struct line_protocol_form form;
	const struct store_settings *store;
	struct ledger_read *read;
	struct http *http; /* lent */
	struct http_body body;
	struct text lines;
	int line_count;
	int64_t tried_ns;        /* `at` of the devices tried last */
	int64_t tried_logger_ns; /* of the logger */
	bool fresh;              /* those being read are others */
	struct told told[SETTINGS_DEVICES], posting[SETTINGS_DEVICES];
	size_t told_count, posting_count;
	int code; /* of this call */
	struct error *error;
};

static struct told *
find_told(struct telling *telling, const char *device)
{
	for (size_t i = 0; i < telling->told_count; i++)
		if (strcmp(telling->told[i].device, device) == 0)
			return &telling->told[i];
	return NULL;
}

static struct told
counts_of(const struct ledger_device *device)
{
	struct told told = {.since = device->since,
	    .scans = device->counts[LEDGER_COUNT_SCANS],
	    .failures = device->counts[LEDGER_COUNT_FAILURES]};

	text_copy(told.device, sizeof(told.device), device->device);
	return told;
}

static void
note_told(struct telling *telling, const struct told *told)
{
	struct told *to = find_told(telling, told->device);

	if (to == NULL && telling->told_count < SETTINGS_DEVICES)
		to = &telling->told[telling->told_count++];
	if (to != NULL)
		*to = *told;
}

/* Of the scans that were not told of yet, or of those since the daemon's start, the share
 * that was answered in full; NAN when there were none. */
static double
answering(struct telling *telling, const struct ledger_device *device)
{
	const struct told *last = find_told(telling, device->device);
	int64_t scans = device->counts[LEDGER_COUNT_SCANS];
	int64_t failures = device->counts[LEDGER_COUNT_FAILURES];

	if (last != NULL && last->since.ns == device->since.ns) {
		scans -= last->scans;
		failures -= last->failures;
	}
	return scans > 0 ? 1 - (double)failures / (double)scans : NAN;
}

/* Those on file at the start: where the daemon has only read its configuration again,
 * nobody has forgotten what was counted before. */
static int
take_earlier(void *arg, const struct ledger_device *device)
{
	struct told told = counts_of(device);

	note_told(arg, &told);
	return 0;
}

struct telling *
telling_open(const struct settings *settings, size_t store, const char *ledger,
    struct http *http, struct error *error)
{
	struct telling *telling = calloc(1, sizeof(*telling));

	if (telling == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	telling->store = &settings->stores[store];
	telling->form = line_protocol_form(settings->site, telling->store->kind);
	telling->http = http;
	text_init(&telling->lines, LINES_BYTES_MAX);
	telling->read = ledger_read_open(ledger, error);
	if (telling->read == NULL ||
	    ledger_read_devices(telling->read, take_earlier, telling, error) != 0) {
		telling_close(telling);
		return NULL;
	}
	return telling;
}

void
telling_close(struct telling *telling)
{
	if (telling == NULL)
		return;
	ledger_read_close(telling->read);
	free(telling->body.bytes);
	text_release(&telling->lines);
	free(telling);
}

static int
post_lines(struct telling *telling)
{
	struct http_answer answer = {0};
	bool taken;
	int code;

	if (telling->lines.failed)
		return error_set(telling->error, ERROR_MEMORY, "out of memory");
	code = http_pack(telling->http, telling->lines.bytes, telling->lines.length,
	    &telling->body, telling->error);
	if (code == 0)
		code = http_start(telling->http, &telling->body, telling->error);
	if (code == 0)
		code = http_finish(telling->http, &answer, telling->error);
	text_clear(&telling->lines);
	telling->line_count = 0;
	taken = code == 0 && store_answer(telling->store->kind, &answer) == STORE_TAKEN;
	for (size_t i = 0; taken && i < telling->posting_count; i++)
		note_told(telling, &telling->posting[i]);
	telling->posting_count = 0;
	if (code != 0 || taken)
		return code;
	return error_set(telling->error, ERROR_REFUSED, "it answers %d%s%s",
	    answer.status, answer.text[0] != '\0' ? ": " : "", answer.text);
}

/* A post holds no more lines than those of the shots. */
static int
take_device(void *arg, const struct ledger_device *device)
{
	struct telling *telling = arg;

	if (device->at.ns == telling->tried_ns && !telling->fresh)
		return 1;
	telling->fresh = true;
	telling->tried_ns = device->at.ns;
	line_protocol_device(
	    &telling->lines, &telling->form, device, answering(telling, device));
	if (telling->posting_count < SETTINGS_DEVICES)
		telling->posting[telling->posting_count++] = counts_of(device);
	if (++telling->line_count >= telling->store->batch_lines)
		telling->code = post_lines(telling);
	return telling->code != 0;
}

/* Posts the devices.  1, 0 or negative. */
static int
post_devices(struct telling *telling)
{
	int code =
	    ledger_read_devices(telling->read, take_device, telling, telling->error);

	if (code != 0)
		return code;
	if (telling->code == 0 && telling->line_count > 0)
		telling->code = post_lines(telling);
	return telling->code != 0 ? telling->code : telling->fresh;
}

/* The logger, in a post of its own: what one store will not take of the one says nothing of
 * the other. */
static int
post_logger(struct telling *telling, struct line_protocol_standing *standing)
{
	struct ledger_logger logger;
	int code = ledger_read_logger(telling->read, &logger, telling->error);

	if (code == ERROR_NOT_FOUND ||
	    (code == 0 && logger.at.ns == telling->tried_logger_ns))
		return 0;
	if (code == 0)
		code = ledger_read_backlog(telling->read, telling->store->name,
		    &standing->backlog, &standing->refused, telling->error);
	if (code != 0)
		return code;
	telling->tried_logger_ns = logger.at.ns;
	line_protocol_logger(&telling->lines, &telling->form, &logger, standing);
	if (telling->lines.length == 0)
		return 0;
	code = post_lines(telling);
	return code != 0 ? code : 1;
}

int
telling_post(struct telling *telling, bool delivering, int64_t lost_readings,
    struct error *error)
{
	struct line_protocol_standing standing = {
	    .delivering = delivering, .lost_readings = lost_readings};

	telling->error = error;
	telling->code = 0;
	telling->fresh = false;
	telling->line_count = 0;
	telling->posting_count = 0;
	text_clear(&telling->lines);
	int devices = post_devices(telling);
	/* A store that is not there need not be tried twice. */
	if (devices < 0 && devices != ERROR_REFUSED)
		return devices;
	struct error first = *error;
	int logger = post_logger(telling, &standing);
	if (devices < 0) {
		*error = first;
		return devices;
	}
	return logger < 0 ? logger : devices > 0 || logger > 0;
}
