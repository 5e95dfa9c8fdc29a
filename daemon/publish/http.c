/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/http.h"

#include <curl/curl.h>
#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <pthread.h>
#include <stdint.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>
#define ZLIB_CONST /* next_in points to what is only read */
#include <zlib.h>

#include "daemon/base/error.h"

enum {
	CONNECT_TIMEOUT_MS = 5000,
	LOOK_UP_MS = 100, /* between two looks at whether to give up */
	PASSWORD = 256,
	GZIP_WINDOW = 15 + 16, /* zlib: the largest window, with a gzip header */
	GZIP_MEMORY = 8,       /* zlib's default */
};

struct http {
	struct http_settings settings;
	CURL *curl;
	CURLM *multi; /* drives it */
	int running;  /* posts under way: 0 or 1 */
	int kept;     /* libcurl's socket of the last post; below 0: there is none */
	struct curl_slist *headers;
	z_stream gzip;
	bool gzip_ready;
	char reason[CURL_ERROR_SIZE];
	char answer[HTTP_ANSWER_TEXT];
	size_t answer_length;
};

static pthread_once_t curl_once = PTHREAD_ONCE_INIT;

static void
init_curl(void)
{
	/* A failure shows as curl_easy_init returning NULL. */
	(void)curl_global_init(CURL_GLOBAL_DEFAULT);
}

/* Keeps the start of the answer and swallows the rest. */
static size_t
take_answer(char *bytes, size_t size, size_t count, void *arg)
{
	struct http *http = arg;

	for (size_t i = 0; i < size * count; i++) {
		if (http->answer_length == HTTP_ANSWER_TEXT - 1)
			break;
		unsigned char c = (unsigned char)bytes[i];
		http->answer[http->answer_length++] =
		    (char)(c < ' ' || c == 0x7f ? ' ' : c);
	}
	http->answer[http->answer_length] = '\0';
	return size * count;
}

static bool
add_header(struct http *http, const char *header)
{
	struct curl_slist *longer = curl_slist_append(http->headers, header);
	if (longer != NULL)
		http->headers = longer;
	return longer != NULL;
}

static bool
set_options(struct http *http)
{
	CURL *curl = http->curl;
	long timeout_ms = lround(http->settings.timeout_s * 1e3);
	long connect_ms =
	    timeout_ms < CONNECT_TIMEOUT_MS ? timeout_ms : CONNECT_TIMEOUT_MS;

	return add_header(http, "Content-Type: text/plain; charset=utf-8") &&
	       add_header(http, "Content-Encoding: gzip") &&
	       add_header(http, "Expect:") &&
	       !curl_easy_setopt(curl, CURLOPT_URL, http->settings.url) &&
	       !curl_easy_setopt(curl, CURLOPT_PROTOCOLS_STR, "http,https") &&
	       !curl_easy_setopt(curl, CURLOPT_PROXY, "") &&
	       !curl_easy_setopt(
		   curl, CURLOPT_USERAGENT, "evensoak/" EVENSOAK_VERSION) &&
	       !curl_easy_setopt(curl, CURLOPT_HTTPHEADER, http->headers) &&
	       !curl_easy_setopt(curl, CURLOPT_NOSIGNAL, 1L) &&
	       !curl_easy_setopt(curl, CURLOPT_TCP_KEEPALIVE, 1L) &&
	       !curl_easy_setopt(curl, CURLOPT_CONNECTTIMEOUT_MS, connect_ms) &&
	       !curl_easy_setopt(curl, CURLOPT_TIMEOUT_MS, timeout_ms) &&
	       !curl_easy_setopt(curl, CURLOPT_ERRORBUFFER, http->reason) &&
	       !curl_easy_setopt(curl, CURLOPT_WRITEFUNCTION, take_answer) &&
	       !curl_easy_setopt(curl, CURLOPT_WRITEDATA, http);
}

struct http *
http_open(const struct http_settings *settings)
{
	struct http *http = calloc(1, sizeof(*http));
	if (http == NULL)
		return NULL;
	pthread_once(&curl_once, init_curl);
	http->settings = *settings;
	http->kept = -1;
	http->curl = curl_easy_init();
	http->multi = curl_multi_init();
	http->gzip_ready = deflateInit2(&http->gzip, Z_BEST_SPEED, Z_DEFLATED,
			       GZIP_WINDOW, GZIP_MEMORY, Z_DEFAULT_STRATEGY) == Z_OK;
	if (http->curl == NULL || http->multi == NULL || !http->gzip_ready ||
	    curl_multi_setopt(http->multi, CURLMOPT_MAXCONNECTS, 1L) != CURLM_OK ||
	    !set_options(http)) {
		http_close(http);
		return NULL;
	}
	return http;
}

void
http_close(struct http *http)
{
	if (http == NULL)
		return;
	if (http->running)
		curl_multi_remove_handle(http->multi, http->curl);
	curl_easy_cleanup(http->curl);
	curl_multi_cleanup(http->multi);
	curl_slist_free_all(http->headers);
	if (http->gzip_ready)
		deflateEnd(&http->gzip);
	free(http);
}

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

/* The first line of the file, of at most PASSWORD - 1 bytes. */
static int
read_password(const char *path, char password[static PASSWORD], struct error *error)
{
	struct stat stat;
	int result = 0;
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
	if (fd < 0)
		return error_set(error, ERROR_REFUSED, "open password file '%s': %s",
		    path, strerrordesc_np(errno));

	ssize_t length = -1;
	if (fstat(fd, &stat) != 0 || !S_ISREG(stat.st_mode))
		result = error_set(error, ERROR_REFUSED,
		    "password file '%s' is not a plain file", path);
	else if ((stat.st_mode & S_IRWXO) != 0)
		result = error_set(error, ERROR_REFUSED,
		    "password file '%s' is open to everybody (mode %03o); chmod it to "
		    "600",
		    path, (unsigned)(stat.st_mode & 0777));
	else if ((length = read(fd, password, PASSWORD - 1)) < 0)
		result = error_set(error, ERROR_REFUSED, "read password file '%s': %s",
		    path, strerrordesc_np(errno));
	close(fd);
	if (length >= 0) {
		password[length] = '\0';
		password[strcspn(password, "\r\n")] = '\0';
	}
	return result;
}

/* Reads the password anew for every post, so that a new one needs no restart. */
static int
log_in(struct http *http, struct error *error)
{
	char password[PASSWORD];

	if (http->settings.user[0] == '\0')
		return 0;
	int result = read_password(http->settings.password_file, password, error);
	if (result == 0 &&
	    (curl_easy_setopt(http->curl, CURLOPT_HTTPAUTH, CURLAUTH_BASIC) ||
		curl_easy_setopt(http->curl, CURLOPT_USERNAME, http->settings.user) ||
		curl_easy_setopt(http->curl, CURLOPT_PASSWORD, password)))
		result = error_set(error, ERROR_MEMORY, "out of memory");
	explicit_bzero(password, sizeof(password));
	return result;
}

static enum error_code
error_of(CURLcode code)
{
	switch ((int)code) { /* a hundred codes of libcurl: the rest is the network */
	case CURLE_OPERATION_TIMEDOUT:
		return ERROR_TIMEOUT;
	case CURLE_ABORTED_BY_CALLBACK:
		return ERROR_BUSY;
	case CURLE_OUT_OF_MEMORY:
		return ERROR_MEMORY;
	case CURLE_PEER_FAILED_VERIFICATION:
	case CURLE_SSL_CACERT_BADFILE:
	case CURLE_UNSUPPORTED_PROTOCOL:
	case CURLE_URL_MALFORMAT:
		return ERROR_REFUSED;
	default:
		return ERROR_IO;
	}
}

/*
 * Keeps the post going until it has ended, or `enough` bytes of its body are sent.
 * False when it is given up.
 */
static bool
drive(struct http *http, size_t enough)
{
	for (;;) {
		curl_off_t sent = 0;
		if (curl_multi_perform(http->multi, &http->running) != CURLM_OK)
			return false;
		curl_easy_getinfo(http->curl, CURLINFO_SIZE_UPLOAD_T, &sent);
		if (!http->running || (size_t)sent >= enough)
			return true;
		if (http->settings.give_up != NULL &&
		    http->settings.give_up(http->settings.arg))
			return false;
		curl_multi_poll(http->multi, NULL, 0, LOOK_UP_MS, NULL);
	}
}

/*
 * Whether the connection that is kept has bytes that nobody asked for, or has ended.  What
 * another post was answered, late or twice, must not be taken for the answer to the next:
 * it gets a connection of its own, and this one goes, since one is kept.
 */
static bool
is_connection_stale(const struct http *http)
{
	struct pollfd kept = {.fd = http->kept, .events = POLLIN};

	return poll(&kept, 1, 0) > 0; /* one below 0 is passed over */
}

int
http_start(struct http *http, const struct http_body *body, struct error *error)
{
	int result = log_in(http, error);
	if (result != 0)
		return result;

	http->reason[0] = http->answer[0] = '\0';
	http->answer_length = 0;
	if (curl_easy_setopt(http->curl, CURLOPT_FRESH_CONNECT,
		is_connection_stale(http) ? 1L : 0L) ||
	    curl_easy_setopt(http->curl, CURLOPT_POSTFIELDS, body->bytes) ||
	    curl_easy_setopt(
		http->curl, CURLOPT_POSTFIELDSIZE_LARGE, (curl_off_t)body->length) ||
	    curl_multi_add_handle(http->multi, http->curl) != CURLM_OK)
		return error_set(error, ERROR_MEMORY, "out of memory");
	drive(http, body->length); /* http_finish tells what went wrong */
	return 0;
}

/* How the post ended; it has. */
static CURLcode
result_of(struct http *http)
{
	int left;
	const CURLMsg *message = curl_multi_info_read(http->multi, &left);

	return message != NULL ? message->data.result : CURLE_OUT_OF_MEMORY;
}

int
http_finish(struct http *http, struct http_answer *answer, struct error *error)
{
	long status = 0;
	curl_off_t retry_after_s = 0;
	curl_socket_t kept = CURL_SOCKET_BAD;
	CURLcode code =
	    drive(http, SIZE_MAX) ? result_of(http) : CURLE_ABORTED_BY_CALLBACK;

	curl_easy_getinfo(http->curl, CURLINFO_RESPONSE_CODE, &status);
	curl_easy_getinfo(http->curl, CURLINFO_RETRY_AFTER, &retry_after_s);
	curl_easy_getinfo(http->curl, CURLINFO_ACTIVESOCKET, &kept);
	http->kept = kept;
	curl_multi_remove_handle(http->multi, http->curl);
	http->running = 0;
	if (code != CURLE_OK)
		return error_set(error, error_of(code), "post to '%s': %s",
		    http->settings.url,
		    http->reason[0] != '\0' ? http->reason : curl_easy_strerror(code));
	answer->status = (int)status;
	answer->retry_after_s = (double)retry_after_s;
	memcpy(answer->text, http->answer, sizeof(answer->text));
	return 0;
}
