/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/store.h"

#include <curl/curl.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

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

int
store_write_url(
    const struct store_settings *store, struct text *url, struct error *error)
{
	CURLU *parts = curl_url();
	char *whole = NULL;
	int result = 0;

	if (parts == NULL)
		return error_set(error, ERROR_MEMORY, "out of memory");
	CURLUcode code = curl_url_set(parts, CURLUPART_URL, store->url, 0);
	if (code == CURLUE_OK && has_login(parts)) {
		result = error_set(error, ERROR_INVALID,
		    "the url of store '%s' names a user or a password; write them as "
		    "'user' and 'password_file'",
		    store->name);
		goto out;
	}
	switch (store->kind) {
	case STORE_INFLUXDB1:
	case STORE_INFLUXDB2:
	case STORE_INFLUXDB3:
	case STORE_VICTORIAMETRICS:
	case STORE_KIND_COUNT:
		/* ns is the one precision that means the same to every server. */
		if (code == CURLUE_OK)
			code = append_path(parts, "/write");
		if (code == CURLUE_OK)
			code = append_query(parts, "db", store->database);
		if (code == CURLUE_OK)
			code = append_query(parts, "precision", "ns");
		break;
	}
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

/*
 * InfluxDB 1.x.  A write that was taken is answered 204, never another 2xx: a 200
 * comes from something else that happens to listen there.  After a 400 some of the
 * lines may be stored and some not.
 */
static enum store_answer
influxdb1_answer(int status)
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

enum store_answer
store_answer(enum store_kind kind, int status)
{
	switch (kind) {
	case STORE_INFLUXDB1:
	case STORE_INFLUXDB2:
	case STORE_INFLUXDB3:
	case STORE_VICTORIAMETRICS:
		return influxdb1_answer(status);
	case STORE_KIND_COUNT:
		break;
	}
	return STORE_CLOSED;
}
