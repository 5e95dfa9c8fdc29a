/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/store.h"

#include <curl/curl.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { PAIRS = 4 }; /* behind the '?' of a URL, at most */

/* --- URLs ------------------------------------------------------------------------- */

/* Whether the URL names a user or a password. */
static bool
has_login(CURLU *url)
{
	const CURLUPart parts[] = {CURLUPART_USER, CURLUPART_PASSWORD};

	for (size_t i = 0; i < sizeof(parts) / sizeof(parts[0]); i++) {
		char *part = NULL;
		CURLUcode code = curl_url_get(url, parts[i], &part, 0);
		curl_free(part);
		if (code == CURLUE_OK)
			return true;
	}
	return false;
}

/* Puts `leaf` behind the path that the URL has. */
static CURLUcode
append_path(CURLU *url, const char *leaf)
{
	struct text path;
	char *base = NULL;
	CURLUcode code = curl_url_get(url, CURLUPART_PATH, &base, 0);
	if (code != CURLUE_OK)
		return code;

	size_t length = strlen(base);
	while (length > 0 && base[length - 1] == '/')
		length--;
	text_init(&path, 2 * SETTINGS_PATH);
	text_add(&path, base, length);
	text_puts(&path, leaf);
	code = path.failed ? CURLUE_OUT_OF_MEMORY
	                   : curl_url_set(url, CURLUPART_PATH, path.bytes, 0);
	text_release(&path);
	curl_free(base);
	return code;
}

static CURLUcode
append_query(CURLU *url, const char *name, const char *value)
{
	struct text pair;
	text_init(&pair, 2 * SETTINGS_NAME);
	text_printf(&pair, "%s=%s", name, value);
	CURLUcode code = pair.failed ? CURLUE_OUT_OF_MEMORY
	                             : curl_url_set(url, CURLUPART_QUERY, pair.bytes,
					   CURLU_APPENDQUERY | CURLU_URLENCODE);
	text_release(&pair);
	return code;
}

/* A name and a value behind the '?'. */
struct pair {
	const char *name, *value; /* value NULL or "": left out */
};

static CURLUcode
append_pairs(CURLU *url, const struct pair *pairs, size_t count)
{
	CURLUcode code = CURLUE_OK;

	for (size_t i = 0; i < count && code == CURLUE_OK; i++)
		if (pairs[i].value != NULL && *pairs[i].value != '\0')
			code = append_query(url, pairs[i].name, pairs[i].value);
	return code;
}

/* Puts `path` and the pairs behind the URL `from` of the settings. */
static int
make_url(const struct store_settings *store, const char *from, const char *path,
    const struct pair pairs[static PAIRS], struct text *url, struct error *error)
{
	CURLU *parts = curl_url();
	char *whole = NULL;
	int result = 0;

	if (parts == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	CURLUcode code = curl_url_set(parts, CURLUPART_URL, from, 0);
	if (code == CURLUE_OK && has_login(parts)) {
		result = error_set(error, ERROR_INVALID,
		    "the url of store '%s' names a user or a password; write them as "
		    "'user' and 'password_file'",
		    store->name);
		goto out;
	}
	if (code == CURLUE_OK)
		code = append_path(parts, path);
	if (code == CURLUE_OK)
		code = append_pairs(parts, pairs, PAIRS);
	if (code == CURLUE_OK)
		code = curl_url_get(parts, CURLUPART_URL, &whole, 0);
	if (code == CURLUE_OK)
		text_puts(url, whole);
	if (code == CURLUE_OUT_OF_MEMORY || url->failed)
		result = error_set(error, ERROR_MEMORY, "out of memory");
	else if (code != CURLUE_OK)
		result = error_set(error, ERROR_INVALID,
		    "the url of store '%s' cannot be used: %s", store->name,
		    curl_url_strerror(code));
out:
	curl_free(whole);
	curl_url_cleanup(parts);
	return result;
}

/* ns is the one precision that means the same to every server; the third kind has a word
 * of its own for it too. */
int
store_write_url(
    const struct store_settings *store, struct text *url, struct error *error)
{
	const struct pair one[PAIRS] = {{"db", store->database}, {"precision", "ns"}};
	const struct pair two[PAIRS] = {{"org", store->organization},
	    {"bucket", store->database}, {"precision", "ns"}};
	const struct pair three[PAIRS] = {{"db", store->database},
	    {"precision", "nanosecond"}, {"accept_partial", "true"},
	    {"no_sync", "false"}};

	switch (store->kind) {
	case STORE_INFLUXDB2:
		return make_url(store, store->url, "/api/v2/write", two, url, error);
	case STORE_INFLUXDB3:
		return make_url(
		    store, store->url, "/api/v3/write_lp", three, url, error);
	case STORE_INFLUXDB1:
	case STORE_VICTORIAMETRICS: /* whose db is a label; "": none */
	case STORE_KIND_COUNT:
		break;
	}
	return make_url(store, store->url, "/write", one, url, error);
}

int
store_query_url(const struct store_settings *store, const char *path, struct text *url,
    struct error *error)
{
	const char *from = store->query_url[0] != '\0' ? store->query_url : store->url;
	const struct pair influx[PAIRS] = {{"db", store->database}};
	const struct pair none[PAIRS] = {{0}};

	switch (store->kind) {
	case STORE_INFLUXDB1:
	case STORE_INFLUXDB2:
	case STORE_INFLUXDB3:
		return make_url(store, from, "/query", influx, url, error);
	case STORE_VICTORIAMETRICS:
	case STORE_KIND_COUNT:
		break;
	}
	return make_url(store, from, path, none, url, error);
}

/* --- logging in ------------------------------------------------------------------- */

static enum http_login
login_of(const struct store_settings *store)
{
	if (store->user[0] != '\0')
		return HTTP_LOGIN_BASIC;
	if (store->token_file[0] == '\0' && store->credential[0] == '\0')
		return HTTP_LOGIN_NONE;
	return store->kind == STORE_INFLUXDB2 ? HTTP_LOGIN_TOKEN : HTTP_LOGIN_BEARER;
}

struct http_settings
store_http(const struct store_settings *store, const char *url)
{
	enum http_login login = login_of(store);

	return (struct http_settings){
	    .url = url,
	    .login = login,
	    .user = store->user,
	    .secret_file =
		login == HTTP_LOGIN_BASIC ? store->password_file : store->token_file,
	    .credential = store->credential,
	    .ca_file = store->ca_file,
	    .trust_anybody = !store->verify,
	    .timeout_s = store->timeout_s,
	};
}

/* --- what is answered to lines ---------------------------------------------------- */

/*
 * What all kinds share.  A write that was taken is answered 204, never another 2xx: a 200
 * comes from something else that happens to listen there.  After a 400 some of the lines
 * may be stored and some not: 1.x and 3.x store the good ones (measured; published), 2.x
 * none of them, or the good ones with a 422 (published).  A VictoriaMetrics drops what it
 * cannot read and answers 204; its 400 is for a line that is too long, a body that is not
 * gzip (measured), or an address that it does not know.
 */
static enum store_answer
answer_of_any(int status)
{
	switch (status) {
	case 204:
		return STORE_TAKEN;
	case 400:
	case 422:
		return STORE_BAD_LINES;
	case 413:
		return STORE_TOO_LARGE;
	case 408:
	case 429:
		return STORE_LATER;
	default:
		return status >= 500 && status <= 599 ? STORE_LATER : STORE_CLOSED;
	}
}

/* The words of 1.x for its settings max-series-per-database and max-values-per-tag: a 400
 * as for bad lines (measured). */
bool
store_is_full(const struct http_answer *answer)
{
	return answer->status == 400 &&
	       (strstr(answer->text, "max-series-per-database") != NULL ||
		   strstr(answer->text, "max-values-per-tag") != NULL);
}

enum store_answer
store_answer(enum store_kind kind, const struct http_answer *answer)
{
	if (store_is_full(answer))
		return STORE_CLOSED;
	switch (kind) {
	case STORE_INFLUXDB3:
		/* Releases differ: 204, or 200 with nothing behind it (from memory).  A
		 * 200 with a page is not the store's. */
		if (answer->status == 200 && answer->text[0] == '\0')
			return STORE_TAKEN;
		break;
	case STORE_INFLUXDB1:
	case STORE_INFLUXDB2:
	case STORE_VICTORIAMETRICS:
	case STORE_KIND_COUNT:
		break;
	}
	return answer_of_any(answer->status);
}
