/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_stores.h"

#include <stdint.h>
#include <string.h>

#include "cli/command/status_stores.h"
#include "cli/page/page.h"
#include "cli/source/store_ask.h"
#include "conf/settings.h"
#include "conf/words.h"
#include "daemon/publish/secret.h"

/* --- asking ------------------------------------------------------------------------------- */

/* Whether the secret is what was refused, on our side. */
static bool
lacks_secret(const struct store_settings *store)
{
	const char *path =
	    *store->token_file ? store->token_file : store->password_file;
	char secret[SECRET_BYTES];

	if (*path == '\0' && *store->credential == '\0')
		return false;
	int code = secret_read(path, store->credential, secret, NULL);
	explicit_bzero(secret, sizeof secret);
	return code != 0;
}

/* As delivery tells what it meets. */
static enum trouble
trouble_of(const struct store_asked *asked, int code)
{
	bool answered = asked->status != 0;

	if (code == 0)
		return TROUBLE_NONE;
	if (code == ERROR_MEMORY)
		return TROUBLE_LEDGER;
	if (code == ERROR_NOT_FOUND)
		return TROUBLE_MISSING;
	if (code == ERROR_TIMEOUT)
		return TROUBLE_SILENT;
	if (code == ERROR_REFUSED && !answered)
		return lacks_secret(asked->store) ? TROUBLE_SECRET
		                                  : TROUBLE_CERTIFICATE;
	if (!answered)
		return TROUBLE_UNREACHABLE;
	if (asked->status >= 200 && asked->status < 300)
		return TROUBLE_ADDRESS; /* not such an answer as its kind gives */
	return trouble_of_status(asked->status);
}

void
check_stores_ask(struct store_live *live, const struct settings *settings, size_t store)
{
	const struct store_settings *its = &settings->stores[store];
	const struct store_question question = {
	    .site = settings->site,
	    .label = its->kind == STORE_VICTORIAMETRICS ? its->database : "",
	    .to_s = INT64_MAX / CLOCK_SECOND_NS,
	};
	struct store_asked asked;
	struct answered answered;

	*live = (struct store_live){TROUBLE_NONE, {""}};
	answered_init(&answered);
	int code = store_ask_open(&asked, its, &live->error);
	if (code == 0)
		code = store_ask(
		    &asked, SUBJECT_LINES, &question, &answered, &live->error);
	live->trouble = trouble_of(&asked, code);
	store_ask_close(&asked);
	answered_release(&answered);
}

/* --- the page ----------------------------------------------------------------------------- */

static const char *
words_of(enum trouble trouble)
{
	static const char *const words[TROUBLE_COUNT] = {
	    [TROUBLE_NONE] = "answers",
	    [TROUBLE_UNREACHABLE] = "not there",
	    [TROUBLE_SILENT] = "no answer in time",
	    [TROUBLE_BUSY] = "asks for time",
	    [TROUBLE_FAILING] = "has an error of its own",
	    [TROUBLE_LEDGER] = "not asked",
	    [TROUBLE_LOGIN] = "refuses: login",
	    [TROUBLE_RIGHTS] = "refuses: rights",
	    [TROUBLE_MISSING] = "refuses: no such data base",
	    [TROUBLE_CERTIFICATE] = "not asked: certificate",
	    [TROUBLE_SECRET] = "not asked: secret",
	};

	return words[trouble] ? words[trouble] : "answers something else";
}

/* What to do.  Only reading was tried. */
static void
advise(const struct store_settings *store, const struct store_live *live,
    char advice[static STATUS_STORES_ADVICE])
{
	if (live->trouble == TROUBLE_RIGHTS)
		snprintf(advice, STATUS_STORES_ADVICE,
		    "it knows us and does not let us read '%s': give the user or token "
		    "the right to do so there; evensoakd needs the one to write",
		    store->database);
	else
		status_stores_advise(store, live->trouble, live->error.text, advice);
}

static void
put_row(struct page *page, const struct store_settings *store,
    const struct store_live *live)
{
	char advice[STATUS_STORES_ADVICE];
	bool good = live->trouble == TROUBLE_NONE;
	struct cell state = cell_words(trouble_word(live->trouble));

	advise(store, live, advice);
	state.instead = words_of(live->trouble);
	state.tone = good ? TONE_GOOD : TONE_BAD;
	const struct cell cells[] = {
	    cell_words(store->name),
	    cell_words(words_store.list[store->kind]),
	    state,
	    cell_words(*store->query_url ? store->query_url : store->url),
	    cell_words(good ? NULL : live->error.text),
	    cell_words(*advice ? advice : NULL),
	};
	page_row(page, cells);
}

static void
put_trouble(struct page *page, const struct store_settings *store,
    const struct store_live *live)
{
	char advice[STATUS_STORES_ADVICE];

	if (live->trouble == TROUBLE_NONE)
		return;
	advise(store, live, advice);
	page_note(page, NULL, TONE_BAD, "wrong: %s", live->error.text);
	if (*advice)
		page_note(page, NULL, TONE_PLAIN, "store %s: %s", store->name, advice);
}

void
check_stores_put_live(
    struct page *page, const struct settings *settings, const struct store_live *live)
{
	static const struct column columns[] = {
	    {"store", "store", 0},
	    {"kind", "kind", 0},
	    {"state", "state", 0},
	    {"query_url", "asked at", 1},
	    {"why", NULL, 0},
	    {"advice", NULL, 0},
	};

	page_table(
	    page, "live_stores", "Stores", columns, sizeof columns / sizeof columns[0]);
	for (size_t i = 0; i < settings->store_count; i++)
		put_row(page, &settings->stores[i], &live[i]);
	page_table_end(page);
	for (size_t i = 0; i < settings->store_count; i++)
		put_trouble(page, &settings->stores[i], &live[i]);
	if (settings->store_count > 0)
		page_note(page, NULL, TONE_FAINT,
		    "stores were asked a question each and nothing was written: "
		    "whether "
		    "they take lines is seen once evensoakd runs, by 'evensoak "
		    "status'");
}
