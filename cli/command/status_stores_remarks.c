/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_stores.h"

#include <inttypes.h>
#include <stdio.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/page/page.h"
#include "daemon/base/text.h"

/* --- what to do ------------------------------------------------------------------- */

enum { ADVICE = STATUS_STORES_ADVICE };

/* What a store of that kind calls what the lines go into. */
static void
advise_missing(const struct store_settings *store, char advice[static ADVICE])
{
	switch (store->kind) {
	case STORE_INFLUXDB1:
		snprintf(advice, ADVICE,
		    "the server has no data base '%s': make it (CREATE DATABASE %s), "
		    "or correct 'database'",
		    store->database, store->database);
		return;
	case STORE_INFLUXDB2:
		snprintf(advice, ADVICE,
		    "the server has no bucket '%s' in organization '%s', or the token "
		    "may not see it: make it there, or correct 'database' and "
		    "'organization'",
		    store->database, store->organization);
		return;
	case STORE_INFLUXDB3:
		snprintf(advice, ADVICE,
		    "the server has no data base '%s': make it there, or correct "
		    "'database'",
		    store->database);
		return;
	case STORE_VICTORIAMETRICS:
	case STORE_KIND_COUNT:
		break;
	}
	snprintf(advice, ADVICE,
	    "nothing takes lines at that path: correct 'url'; of a cluster it ends in "
	    "/insert/0/influx");
}

/* Where the secret is, which a 401 does not like. */
static void
advise_login(const struct store_settings *store, char advice[static ADVICE])
{
	const char *file =
	    *store->token_file ? store->token_file : store->password_file;

	if (*store->credential)
		snprintf(advice, ADVICE,
		    "it does not know us: put the right secret where the systemd "
		    "credential '%s' comes from, then restart evensoakd",
		    store->credential);
	else if (*file)
		snprintf(advice, ADVICE,
		    "it does not know us: put the right %s into '%s'; no restart is "
		    "needed",
		    *store->token_file ? "token" : "password", file);
	else
		snprintf(advice, ADVICE,
		    "it wants to know who we are: set 'token_file', or 'user' and "
		    "'password_file'");
}

static void
advise_trouble(const struct store_settings *settings, enum trouble trouble,
    char advice[static ADVICE])
{
	const char *text = "";

	switch (trouble) {
	case TROUBLE_UNREACHABLE:
		text = "is its computer on and in the network, does the server run "
		       "there, is the port in 'url' right, no firewall between?";
		break;
	case TROUBLE_SILENT:
		text = "it takes the call and says nothing: look at its load and its "
		       "disk; over a slow network raise 'timeout_s'";
		break;
	case TROUBLE_BUSY:
		text = "it asks to be left alone for a while and is; if that lasts, "
		       "it has too much to do";
		break;
	case TROUBLE_FAILING:
		text = "it has an error of its own: look at its log and its disk; one "
		       "that never ends often is a retention policy that is gone";
		break;
	case TROUBLE_LOGIN:
		advise_login(settings, advice);
		return;
	case TROUBLE_RIGHTS:
		snprintf(advice, ADVICE,
		    "it knows us and does not let us write to '%s': give the user or "
		    "token the right to write there",
		    settings->database);
		return;
	case TROUBLE_MISSING:
		advise_missing(settings, advice);
		return;
	case TROUBLE_CERTIFICATE:
		text = "'ca_file' must hold the certificate of whoever vouches for "
		       "it, the name in 'url' must stand in its own, and the clocks "
		       "must be right";
		break;
	case TROUBLE_ADDRESS:
		text = "what answers there takes no lines: are 'url' and 'kind' "
		       "right?";
		break;
	case TROUBLE_UNKEPT:
		text = "it drops what is older than its retention, or lost its data: "
		       "put that right (-retentionPeriod), then 'evensoak resend'";
		break;
	case TROUBLE_FULL:
		text = "it has reached a limit of its own configuration and takes no "
		       "new series: raise max-series-per-database or "
		       "max-values-per-tag there";
		break;
	case TROUBLE_REFUSES:
		text = "it refuses one line after another with the same words, so that "
		       "no more are set aside: what do they say? Once it takes lines "
		       "again, 'evensoak resend' sends those set aside too";
		break;
	case TROUBLE_NONE:
	case TROUBLE_LEDGER: /* the sentences say what to do */
	case TROUBLE_SECRET:
	case TROUBLE_COUNT:
		break;
	}
	text_copy(advice, ADVICE, text);
}

void
status_stores_advise(const struct store_settings *settings, enum trouble trouble,
    const char *words, char advice[static STATUS_STORES_ADVICE])
{
	if (trouble == TROUBLE_UNREACHABLE && strcasestr(words, "resolve"))
		snprintf(advice, ADVICE,
		    "is the name in 'url' right, and does this computer know it "
		    "('getent "
		    "hosts NAME')?");
	else
		advise_trouble(settings, trouble, advice);
}

/* --- remarks -------------------------------------------------------------------------------- */

/* When a store that holds is tried again; a credential comes with a restart alone. */
static const char *
when_tried(const struct status_store *store)
{
	enum trouble trouble = trouble_of_word(store->state);
	bool ours = trouble == TROUBLE_LOGIN || trouble == TROUBLE_SECRET;

	if (!trouble_holds(trouble) || !store->settings ||
	    (ours && *store->settings->credential))
		return "";
	return "tried again within five minutes; at once after: systemctl reload "
	       "evensoakd";
}

static void
tell_failing(struct page *page, const struct status_store *store)
{
	char since[CALENDAR_TEXT], advice[ADVICE] = "";

	shown_clock(store->since, clock_wall(), since);
	page_note(page, NULL, TONE_BAD,
	    "wrong: store %s: %s%s%s since %s; %" PRId64
	    " shot%s wait%s in the ledger, "
	    "nothing is lost",
	    store->name, store->text, *store->text ? "; " : "",
	    status_stores_words(store), since, store->lack.shots,
	    store->lack.shots == 1 ? "" : "s", store->lack.shots == 1 ? "s" : "");
	if (store->settings)
		status_stores_advise(store->settings, trouble_of_word(store->state),
		    store->text, advice);
	if (*advice)
		page_note(page, NULL, TONE_PLAIN, "store %s: %s", store->name, advice);
	if (*when_tried(store))
		page_note(page, NULL, TONE_PLAIN, "store %s: %s", store->name,
		    when_tried(store));
}

static void
tell_dropped(struct page *page, const struct status_store *store)
{
	if (store->lack.lost > 0)
		page_note(page, NULL, TONE_PLAIN,
		    "store %s: %" PRId64 " live readings were dropped, as it was away "
		    "for longer than they are kept ('readings_keep_h'); shots are not "
		    "concerned",
		    store->name, store->lack.lost);
}

int
status_stores_remark(struct page *page, const struct status_stores *stores)
{
	int wrong = 0;

	for (size_t i = 0; i < stores->count; i++) {
		const struct status_store *store = &stores->list[i];
		wrong += status_refused_put(page, store->name, &store->refused);
		tell_dropped(page, store);
	}
	return wrong;
}

int
status_stores_wrong(struct page *page, const struct status_stores *stores)
{
	int wrong = 0;

	for (size_t i = 0; i < stores->count; i++)
		if (status_stores_is_failing(&stores->list[i])) {
			tell_failing(page, &stores->list[i]);
			wrong++;
		}
	return wrong;
}
