/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/transfer.h"

#include <poll.h>
#include <pthread.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/publish/secret.h"
#include "daemon/publish/tls.h"

enum {
	CONNECT_TIMEOUT_MS = 5000,
	LOOK_UP_MS = 100,              /* between two looks at whether to give up */
	HEADER_BYTES_MAX = 64 << 10,   /* of an answer; a page of them is usual */
	ANSWER_BYTES_MAX = 1024 << 10, /* of a body that nobody takes */
};

static pthread_once_t curl_once = PTHREAD_ONCE_INIT;

static void
init_curl(void)
{
	/* A failure shows as curl_easy_init returning NULL. */
	(void)curl_global_init(CURL_GLOBAL_DEFAULT);
}

static const char *
or_empty(const char *string)
{
	return string != NULL ? string : "";
}

/* No connection is kept any more.  False when memory is short. */
static bool
hang_up(struct transfer *transfer)
{
	curl_multi_cleanup(transfer->multi); /* NULL: there is none yet */
	transfer->multi = curl_multi_init();
	transfer->kept = -1;
	return transfer->multi != NULL &&
	       curl_multi_setopt(transfer->multi, CURLMOPT_MAXCONNECTS, 1L) == CURLM_OK;
}

bool
transfer_init(struct transfer *transfer, const struct http_settings *settings)
{
	pthread_once(&curl_once, init_curl);
	*transfer = (struct transfer){.settings = *settings, .kept = -1};
	transfer->settings.user = or_empty(settings->user);
	transfer->settings.secret_file = or_empty(settings->secret_file);
	transfer->settings.credential = or_empty(settings->credential);
	transfer->settings.ca_file = or_empty(settings->ca_file);
	transfer->curl = curl_easy_init();
	return transfer->curl != NULL && hang_up(transfer);
}

/* The login is among them. */
static void
forget_headers(struct transfer *transfer)
{
	for (struct curl_slist *i = transfer->headers; i != NULL; i = i->next)
		explicit_bzero(i->data, strlen(i->data));
	curl_slist_free_all(transfer->headers);
	transfer->headers = NULL;
}

void
transfer_release(struct transfer *transfer)
{
	if (transfer->running)
		curl_multi_remove_handle(transfer->multi, transfer->curl);
	curl_easy_cleanup(transfer->curl);
	curl_multi_cleanup(transfer->multi);
	forget_headers(transfer);
}

bool
transfer_add_header(struct transfer *transfer, const char *header)
{
	struct curl_slist *longer = curl_slist_append(transfer->headers, header);
	if (longer != NULL)
		transfer->headers = longer;
	return longer != NULL;
}

/* --- what comes ------------------------------------------------------------------- */

static size_t
take_header(char *bytes, size_t size, size_t count, void *arg)
{
	struct transfer *transfer = arg;

	(void)bytes;
	transfer->header_bytes += size * count;
	return transfer->header_bytes > HEADER_BYTES_MAX ? 0 : size * count;
}

/* Keeps the start of the answer and swallows the rest of it. */
static void
keep_start(struct transfer *transfer, const char *bytes, size_t count)
{
	size_t length = transfer->answer_length;

	for (size_t i = 0; i < count && length < HTTP_ANSWER_TEXT - 1; i++) {
		unsigned char c = (unsigned char)bytes[i];
		transfer->answer[length++] = (char)(c < ' ' || c == 0x7f ? ' ' : c);
	}
	transfer->answer[length] = '\0';
	transfer->answer_length = length;
	transfer->answer_bytes += count;
	if (transfer->answer_bytes > ANSWER_BYTES_MAX)
		transfer->ended = true;
}

static size_t
take_body(char *bytes, size_t size, size_t count, void *arg)
{
	struct transfer *transfer = arg;
	size_t length = size * count;
	long status = 0;

	curl_easy_getinfo(transfer->curl, CURLINFO_RESPONSE_CODE, &status);
	if (transfer->take != NULL && status >= 200 && status <= 299)
		transfer->ended = transfer->take(transfer->arg, bytes, length) != 0;
	else
		keep_start(transfer, bytes, length);
	return transfer->ended && length > 0 ? 0 : length;
}

/* --- one request ------------------------------------------------------------------ */

static bool
set_options(struct transfer *transfer)
{
	CURL *curl = transfer->curl;
	double timeout_ms = transfer->settings.timeout_s * 1e3;
	long connect_ms =
	    timeout_ms < CONNECT_TIMEOUT_MS ? (long)timeout_ms : CONNECT_TIMEOUT_MS;

	return tls_set(curl, transfer->settings.ca_file,
		   transfer->settings.trust_anybody) &&
	       !curl_easy_setopt(curl, CURLOPT_URL, transfer->url) &&
	       !curl_easy_setopt(curl, CURLOPT_PROTOCOLS_STR, "http,https") &&
	       !curl_easy_setopt(
		   curl, CURLOPT_HTTP_VERSION, (long)CURL_HTTP_VERSION_1_1) &&
	       !curl_easy_setopt(curl, CURLOPT_PROXY, "") &&
	       !curl_easy_setopt(
		   curl, CURLOPT_USERAGENT, "evensoak/" EVENSOAK_VERSION) &&
	       !curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L) &&
	       !curl_easy_setopt(curl, CURLOPT_TCP_KEEPALIVE, 1L) &&
	       !curl_easy_setopt(curl, CURLOPT_CONNECTTIMEOUT_MS, connect_ms) &&
	       !curl_easy_setopt(curl, CURLOPT_ERRORBUFFER, transfer->reason) &&
	       !curl_easy_setopt(curl, CURLOPT_HEADERFUNCTION, take_header) &&
	       !curl_easy_setopt(curl, CURLOPT_HEADERDATA, transfer) &&
	       !curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, take_body) &&
	       !curl_easy_setopt(curl, CURLOPT_WRITEDATA, transfer) &&
	       transfer_add_header(transfer, "Expect:");
}

static bool
add_authorization(struct transfer *transfer, const char *word, const char *secret)
{
	char header[SECRET_BYTES + 64];

	snprintf(header, sizeof(header), "Authorization: %s %s", word, secret);
	bool added = transfer_add_header(transfer, header);
	explicit_bzero(header, sizeof(header));
	return added;
}

static bool
set_login(struct transfer *transfer, const char *secret)
{
	CURL *curl = transfer->curl;

	switch (transfer->settings.login) {
	case HTTP_LOGIN_NONE:
		break;
	case HTTP_LOGIN_BASIC:
		return !curl_easy_setopt(
			   curl, CURLOPT_HTTPAUTH, (long)CURLAUTH_BASIC) &&
		       !curl_easy_setopt(
			   curl, CURLOPT_USERNAME, transfer->settings.user) &&
		       !curl_easy_setopt(curl, CURLOPT_PASSWORD, secret);
	case HTTP_LOGIN_TOKEN:
		return add_authorization(transfer, "Token", secret);
	case HTTP_LOGIN_BEARER:
		return add_authorization(transfer, "Bearer", secret);
	}
	return true;
}

/* Reads the secret anew for every request, so that a new one needs no restart. */
static int
log_in(struct transfer *transfer, struct error *error)
{
	char secret[SECRET_BYTES];

	if (transfer->settings.login == HTTP_LOGIN_NONE)
		return 0;
	int result = secret_read(transfer->settings.secret_file,
	    transfer->settings.credential, secret, error);
	if (result == 0 && !set_login(transfer, secret))
		result = error_set(error, ERROR_MEMORY, "out of memory");
	explicit_bzero(secret, sizeof(secret));
	return result;
}

int
transfer_prepare(struct transfer *transfer, const char *url, struct error *error)
{
	curl_easy_reset(transfer->curl); /* the connection stays */
	forget_headers(transfer);
	transfer->url = url;
	transfer->take = NULL;
	transfer->header_bytes = transfer->answer_length = transfer->answer_bytes = 0;
	transfer->reason[0] = transfer->answer[0] = '\0';
	transfer->ended = false;
	if (!set_options(transfer))
		return error_set(error, ERROR_MEMORY, "out of memory");
	return log_in(transfer, error);
}

/*
 * Whether the connection that is kept has bytes that nobody asked for, or has ended.  What
 * another request was answered, late or twice, must not be taken for the answer to the
 * next: it is hung up on.  So is any that libcurl has kept without saying which.
 */
static bool
is_connection_stale(const struct transfer *transfer)
{
	struct pollfd kept = {.fd = transfer->kept, .events = POLLIN};

	return poll(&kept, 1, 0) > 0; /* one below 0 is passed over */
}

int64_t
transfer_connection(const struct transfer *transfer)
{
	bool there = transfer->kept >= 0 && !is_connection_stale(transfer);

	return there ? transfer->connections : 0;
}

int
transfer_begin(struct transfer *transfer, struct error *error)
{
	bool known = transfer->kept >= 0 && !is_connection_stale(transfer);

	if ((!known && !hang_up(transfer)) ||
	    curl_easy_setopt(transfer->curl, CURLOPT_HTTPHEADER, transfer->headers) ||
	    curl_multi_add_handle(transfer->multi, transfer->curl) != CURLM_OK)
		return error_set(error, ERROR_MEMORY, "out of memory");
	transfer->running = 1;
	return 0;
}

bool
transfer_drive(struct transfer *transfer, size_t enough)
{
	const struct http_settings *settings = &transfer->settings;

	for (;;) {
		curl_off_t sent = 0;
		if (curl_multi_perform(transfer->multi, &transfer->running) != CURLM_OK)
			return false;
		curl_easy_getinfo(transfer->curl, CURLINFO_SIZE_UPLOAD_T, &sent);
		if (!transfer->running || (size_t)sent >= enough)
			return true;
		if (settings->give_up != NULL && settings->give_up(settings->arg))
			return false;
		curl_multi_poll(transfer->multi, NULL, 0, LOOK_UP_MS, NULL);
	}
}

/* --- how it ended ----------------------------------------------------------------- */

static CURLcode
result_of(struct transfer *transfer)
{
	int left;
	const CURLMsg *message = curl_multi_info_read(transfer->multi, &left);

	return message != NULL ? message->data.result : CURLE_OUT_OF_MEMORY;
}

static enum error_code
error_of(CURLcode code)
{
	if (tls_refuses(code))
		return ERROR_REFUSED;
	switch ((int)code) { /* a hundred codes of libcurl: the rest is the network */
	case CURLE_OPERATION_TIMEDOUT:
		return ERROR_TIMEOUT;
	case CURLE_ABORTED_BY_CALLBACK:
		return ERROR_BUSY;
	case CURLE_OUT_OF_MEMORY:
		return ERROR_MEMORY;
	case CURLE_UNSUPPORTED_PROTOCOL:
	case CURLE_URL_MALFORMAT:
		return ERROR_REFUSED;
	default:
		return ERROR_IO;
	}
}

static int
tell(struct transfer *transfer, const char *verb, CURLcode code, struct error *error)
{
	/* libcurl has no room for a line of 100 KiB and calls that memory. */
	if (transfer->header_bytes > HEADER_BYTES_MAX ||
	    (code == CURLE_OUT_OF_MEMORY && transfer->header_bytes > 0))
		return error_set(error, ERROR_IO,
		    "%s '%s': more than %d bytes of headers; is that the store?", verb,
		    transfer->url, HEADER_BYTES_MAX);
	return error_set(error, error_of(code), "%s '%s': %s%s", verb, transfer->url,
	    transfer->reason[0] != '\0' ? transfer->reason : curl_easy_strerror(code),
	    tls_advice(transfer->curl, code));
}

int
transfer_end(struct transfer *transfer, const char *verb, struct http_answer *answer,
    struct error *error)
{
	long status = 0, made = 0;
	curl_off_t retry_after_s = 0;
	curl_socket_t kept = CURL_SOCKET_BAD;
	CURLcode code = transfer_drive(transfer, SIZE_MAX) ? result_of(transfer)
	                                                   : CURLE_ABORTED_BY_CALLBACK;

	curl_easy_getinfo(transfer->curl, CURLINFO_RESPONSE_CODE, &status);
	curl_easy_getinfo(transfer->curl, CURLINFO_RETRY_AFTER, &retry_after_s);
	curl_easy_getinfo(transfer->curl, CURLINFO_ACTIVESOCKET, &kept);
	transfer->kept = kept;
	curl_easy_getinfo(transfer->curl, CURLINFO_NUM_CONNECTS, &made);
	transfer->connections += made;
	curl_multi_remove_handle(transfer->multi, transfer->curl);
	transfer->running = 0;
	if (code != CURLE_OK && !transfer->ended)
		return tell(transfer, verb, code, error);
	answer->status = (int)status;
	answer->retry_after_s = (double)retry_after_s;
	memcpy(answer->text, transfer->answer, sizeof(answer->text));
	return 0;
}
