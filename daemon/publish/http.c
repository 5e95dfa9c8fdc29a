/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/http.h"

#include <curl/curl.h>
#include <math.h>
#include <stdlib.h>
#include <string.h>
#define ZLIB_CONST /* next_in points to what is only read */
#include <zlib.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/publish/transfer.h"

enum {
	GZIP_WINDOW = 15 + 16, /* zlib: the largest window, with a gzip header */
	GZIP_MEMORY = 8,       /* zlib's default */
	ASK_LONGEST_S = 3600,
	ASK_SLOWEST_BYTES_S = 1,
};

struct http {
	struct transfer transfer;
	z_stream gzip;
	bool gzip_ready;
};

struct http *
http_open(const struct http_settings *settings)
{
	struct http *http = calloc(1, sizeof(*http));
	if (http == NULL)
		return NULL;
	bool ready = transfer_init(&http->transfer, settings);
	http->gzip_ready = deflateInit2(&http->gzip, Z_BEST_SPEED, Z_DEFLATED,
			       GZIP_WINDOW, GZIP_MEMORY, Z_DEFAULT_STRATEGY) == Z_OK;
	if (ready && http->gzip_ready)
		return http;
	http_close(http);
	return NULL;
}

void
http_close(struct http *http)
{
	if (http == NULL)
		return;
	transfer_release(&http->transfer);
	if (http->gzip_ready)
		deflateEnd(&http->gzip);
	free(http);
}

/* --- posting ---------------------------------------------------------------------- */

int
http_pack(struct http *http, const char *text, size_t length, struct http_body *body,
    struct error *error)
{
	deflateReset(&http->gzip); /* before the bound, which knows the header by it */
	size_t bound = deflateBound(&http->gzip, length);

	body->length = 0;
	if (bound > body->room) {
		unsigned char *larger = realloc(body->bytes, bound);
		if (larger == NULL)
			return error_set(error, ERROR_MEMORY, "out of memory");
		body->bytes = larger;
		body->room = bound;
	}
	http->gzip.next_in = (const Bytef *)text;
	http->gzip.avail_in = (uInt)length;
	http->gzip.next_out = body->bytes;
	http->gzip.avail_out = (uInt)body->room;
	if (deflate(&http->gzip, Z_FINISH) != Z_STREAM_END)
		return error_set(
		    error, ERROR_MEMORY, "cannot compress %zu bytes", length);
	body->length = http->gzip.total_out;
	return 0;
}

static bool
set_post(struct transfer *transfer, const struct http_body *body)
{
	CURL *curl = transfer->curl;
	long timeout_ms = lround(transfer->settings.timeout_s * 1e3);

	return transfer_add_header(
		   transfer, "Content-Type: text/plain; charset=utf-8") &&
	       transfer_add_header(transfer, "Content-Encoding: gzip") &&
	       !curl_easy_setopt(curl, CURLOPT_TIMEOUT_MS, timeout_ms) &&
	       !curl_easy_setopt(curl, CURLOPT_POSTFIELDS, body->bytes) &&
	       !curl_easy_setopt(
		   curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)body->length);
}

int
http_start(struct http *http, const struct http_body *body, struct error *error)
{
	struct transfer *transfer = &http->transfer;
	int result = transfer_prepare(transfer, transfer->settings.url, error);

	if (result == 0 && !set_post(transfer, body))
		result = error_set(error, ERROR_MEMORY, "out of memory");
	if (result == 0)
		result = transfer_begin(transfer, error);
	if (result == 0)
		transfer_drive(transfer, body->length); /* http_finish tells */
	return result;
}

int
http_finish(struct http *http, struct http_answer *answer, struct error *error)
{
	return transfer_end(&http->transfer, "post to", answer, error);
}

int64_t
http_connection(const struct http *http)
{
	return transfer_connection(&http->transfer);
}

/* --- asking ----------------------------------------------------------------------- */

static bool
set_question(struct transfer *transfer, const struct http_question *question)
{
	CURL *curl = transfer->curl;
	long still_s = lround(ceil(transfer->settings.timeout_s));

	transfer->take = question->take;
	transfer->arg = question->arg;
	return !curl_easy_setopt(curl, CURLOPT_ACCEPT_ENCODING, "gzip") &&
	       !curl_easy_setopt(curl, CURLOPT_BUFFERSIZE, 64L << 10) &&
	       !curl_easy_setopt(curl, CURLOPT_TIMEOUT, (long)ASK_LONGEST_S) &&
	       !curl_easy_setopt(
		   curl, CURLOPT_LOW_SPEED_LIMIT, (long)ASK_SLOWEST_BYTES_S) &&
	       !curl_easy_setopt(curl, CURLOPT_LOW_SPEED_TIME, still_s) &&
	       (question->form == NULL ||
		   !curl_easy_setopt(curl, CURLOPT_POSTFIELDS, question->form));
}

int
http_ask(struct http *http, const struct http_question *question,
    struct http_answer *answer, struct error *error)
{
	struct transfer *transfer = &http->transfer;
	int result = transfer_prepare(transfer, question->url, error);

	if (result == 0 && !set_question(transfer, question))
		result = error_set(error, ERROR_MEMORY, "out of memory");
	if (result == 0)
		result = transfer_begin(transfer, error);
	if (result == 0)
		result = transfer_end(transfer, "ask", answer, error);
	return result;
}

void
http_add_pair(struct text *form, const char *name, const char *value)
{
	const char *const parts[] = {name, value};

	if (form->length > 0)
		text_puts(form, "&");
	for (int i = 0; i < 2; i++) {
		char *encoded = curl_easy_escape(NULL, parts[i], 0);
		if (encoded != NULL)
			text_puts(form, encoded);
		else
			form->failed = true;
		curl_free(encoded);
		if (i == 0)
			text_puts(form, "=");
	}
}
