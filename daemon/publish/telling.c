/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/telling.h"

#include <stdint.h>
#include <stdlib.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/publish/http.h"
#include "daemon/publish/line_protocol.h"
#include "daemon/publish/store.h"

enum { LINES_BYTES_MAX = 1 << 20 };

struct telling {
	const char *site;
	const struct store_settings *store;
	struct ledger_read *read;
	struct http *http; /* lent */
	struct http_body body;
	struct text lines;
	int line_count;
	int64_t tried_ns; /* `at` of the devices tried last */
	bool fresh;       /* those being read are others */
	int code;         /* of this call */
	struct error *error;
};

struct telling *
telling_open(const struct settings *settings, size_t store, const char *ledger,
    struct http *http, struct error *error)
{
	struct telling *telling = calloc(1, sizeof(*telling));

	if (telling == NULL) {
		error_set(error, ERROR_MEMORY, "out of memory");
		return NULL;
	}
	telling->site = settings->site;
	telling->store = &settings->stores[store];
	telling->http = http;
	text_init(&telling->lines, LINES_BYTES_MAX);
	telling->read = ledger_read_open(ledger, error);
	if (telling->read == NULL) {
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
	if (code != 0 ||
	    store_answer(telling->store->kind, answer.status) == STORE_TAKEN)
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
	line_protocol_device(&telling->lines, telling->site, device);
	if (++telling->line_count >= telling->store->batch_lines)
		telling->code = post_lines(telling);
	return telling->code != 0;
}

int
telling_post(struct telling *telling, struct error *error)
{
	int code;

	telling->error = error;
	telling->code = 0;
	telling->fresh = false;
	telling->line_count = 0;
	text_clear(&telling->lines);
	code = ledger_read_devices(telling->read, take_device, telling, error);
	if (code != 0)
		return code;
	if (telling->code == 0 && telling->line_count > 0)
		telling->code = post_lines(telling);
	return telling->code != 0 ? telling->code : telling->fresh;
}
