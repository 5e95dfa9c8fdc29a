/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/source/store_ask.h"

#include "cli/source/json_lines.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/publish/http.h"
#include "daemon/publish/store.h"

enum { FORM_MOST = 256 << 10, URL_MOST = 4 * SETTINGS_PATH };

/* An answer on its way. */
struct reading {
	struct json_lines lines;
	struct answered *answered;
	int (*take)(void *arg, const json_t *document, struct error *error);
	int code;
	struct error *error;
};

static int
take_document(void *arg, const json_t *document, struct error *error)
{
	struct reading *reading = arg;

	reading->answered->documents++;
	return reading->take(reading->answered, document, error);
}

static int
take_bytes(void *arg, const char *bytes, size_t count)
{
	struct reading *reading = arg;

	reading->code = json_lines_feed(&reading->lines, bytes, count, reading->error);
	return reading->code;
}

static const struct store_dialect *
dialect_of(enum store_kind kind)
{
	switch (kind) {
	case STORE_INFLUXDB1:
	case STORE_INFLUXDB2:
	case STORE_INFLUXDB3:
		return &influx_dialect;
	case STORE_VICTORIAMETRICS:
		return &victoria_dialect;
	case STORE_KIND_COUNT:
		break;
	}
	return NULL;
}

int
store_ask_open(
    struct store_asked *asked, const struct store_settings *store, struct error *error)
{
	struct text url;

	*asked =
	    (struct store_asked){.store = store, .dialect = dialect_of(store->kind)};
	text_init(&url, URL_MOST);
	int code = store_query_url(
	    store, asked->dialect->subjects[SUBJECT_SHOTS].path, &url, error);
	if (code == 0) {
		const struct http_settings settings = store_http(store, url.bytes);
		asked->http = http_open(&settings);
		if (asked->http == NULL)
			code = error_set(error, ERROR_MEMORY, "out of memory");
	}
	text_release(&url);
	return code;
}

void
store_ask_close(struct store_asked *asked)
{
	http_close(asked->http);
}

/* What a status means that is no good one. */
static int
refuse(const struct http_answer *answer, struct error *error)
{
	const char *text = answer->text, *colon = *text != '\0' ? ": " : "";

	switch (answer->status) {
	case 401:
		return error_set(error, ERROR_REFUSED,
		    "does not know who asks (401)%s%s", colon, text);
	case 403:
		return error_set(error, ERROR_REFUSED,
		    "does not let the one who asks read (403)%s%s", colon, text);
	case 404:
		return error_set(error, ERROR_NOT_FOUND,
		    "has no such data base, or no such place (404)%s%s", colon, text);
	default:
		return error_set(error, ERROR_REFUSED, "answers %d%s%s", answer->status,
		    colon, text);
	}
}

/* The whole answer, from asking on. */
static int
read_answer(struct store_asked *asked, const char *url, const char *form,
    struct reading *reading, struct error *error)
{
	const struct http_question question = {url, form, take_bytes, reading};
	struct http_answer answer;
	int code = http_ask(asked->http, &question, &answer, error);

	asked->status = code == 0 ? answer.status : 0;
	if (code != 0)
		return error_prefix(
		    error, (enum error_code)code, "store '%s'", asked->store->name);
	if (answer.status < 200 || answer.status > 299)
		reading->code = refuse(&answer, error);
	if (reading->code == 0)
		reading->code = json_lines_end(&reading->lines, error);
	bool silent =
	    asked->dialect->always_speaks && reading->answered->documents == 0;
	if (reading->code == 0 && (silent || reading->answered->is_partial))
		reading->code =
		    error_set(error, ERROR_IO, "ends its answer in the middle");
	return reading->code == 0 ? 0
	                          : error_prefix(error, (enum error_code)reading->code,
					"store '%s' (%s)", asked->store->name, url);
}

int
store_ask(struct store_asked *asked, enum store_subject subject,
    const struct store_question *question, struct answered *answered,
    struct error *error)
{
	const struct store_subject_traits *traits = &asked->dialect->subjects[subject];
	struct reading reading = {
	    .answered = answered, .take = traits->take, .error = error};
	struct text form, url;

	if (traits->path == NULL)
		return 0;
	text_init(&form, FORM_MOST);
	text_init(&url, URL_MOST);
	json_lines_init(&reading.lines, take_document, &reading);
	answered->is_partial = false;
	answered->documents = 0;
	int code = store_query_url(asked->store, traits->path, &url, error);
	if (code == 0) {
		traits->ask(&form, question);
		code = form.failed
		           ? error_set(error, ERROR_MEMORY, "out of memory")
		           : read_answer(asked, url.bytes, form.bytes, &reading, error);
	}
	json_lines_release(&reading.lines);
	text_release(&url);
	text_release(&form);
	return code;
}
