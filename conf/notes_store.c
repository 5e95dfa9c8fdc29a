/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/notes_store.h"

#include <math.h>
#include <string.h>

#include "conf/note.h"
#include "conf/stores.h"

/* Measured with VictoriaMetrics 1.79.5: killed so long after a 204 it had lost nothing,
 * after half of it all. */
static const double settled_s = 12;

static bool
begins_with(const char *text, const char *start)
{
	return strncmp(text, start, strlen(start)) == 0;
}

/* Whether what goes there passes through a network that others listen to. */
static bool
is_overheard(const char *url)
{
	static const char *const here[] = {
	    "localhost", "127.", "[::1]"}; /* and then a ':', a '/' or the end */
	const char *host;

	if (*url == '\0' || stores_is_https(url))
		return false;
	host = url + strlen("http://");
	for (size_t i = 0; i < sizeof here / sizeof here[0]; i++) {
		const char *behind = host + strlen(here[i]);

		if (begins_with(host, here[i]) &&
		    (here[i][0] == '1' || strchr(":/", *behind)))
			return false;
	}
	return true;
}

static bool
has_secret(const struct store_settings *store)
{
	return *store->password_file || *store->token_file || *store->credential;
}

static void
tell_secrets(const struct notes *notes, const struct store_settings *store)
{
	if (!store->verify)
		note(notes,
		    "store %s: 'verify = no': anybody on the way may pass for it, get "
		    "its %s and the shots; write 'ca_file' instead",
		    store->name, has_secret(store) ? "secret" : "place");
	if (has_secret(store) &&
	    (is_overheard(store->url) || is_overheard(store->query_url)))
		note(notes,
		    "store %s: its secret goes over the network in the clear, with "
		    "every request; https keeps it",
		    store->name);
	if (!has_secret(store) && store->kind == STORE_INFLUXDB2)
		note(notes,
		    "store %s has no 'token_file' and no 'credential': an influxdb2 "
		    "asks for a token",
		    store->name);
}

static void
tell_readings(const struct notes *notes, const struct store_settings *store)
{
	const struct settings *settings = notes->settings;
	double fastest_s = INFINITY;

	for (size_t i = 0; i < settings->channel_count; i++)
		fastest_s = fmin(fastest_s, settings->channels[i].period_s);
	if (settings->channel_count > 0 && store->reading_period_s > 0 &&
	    store->reading_period_s < fastest_s)
		note(notes,
		    "store %s: 'readings_s' is %g, but no channel is read more often "
		    "than once in %g s",
		    store->name, store->reading_period_s, fastest_s);
}

/* Once: one drop-in is for all of them. */
static void
tell_credentials(const struct notes *notes)
{
	const struct settings *settings = notes->settings;

	for (size_t i = 0; i < settings->store_count; i++) {
		const struct store_settings *store = &settings->stores[i];

		if (*store->credential == '\0')
			continue;
		note(notes,
		    "store %s: systemd hands its credential '%s' to evensoakd, once "
		    "the drop-in store-credential.conf names it and its file; commands "
		    "have none",
		    store->name, store->credential);
		return;
	}
}

void
notes_store_tell(const struct notes *notes)
{
	const struct settings *settings = notes->settings;

	if (settings->store_count == 0)
		note(notes, "there is no [store]: shots are kept in the ledger alone");
	for (size_t i = 0; i < settings->store_count; i++) {
		const struct store_settings *store = &settings->stores[i];

		tell_secrets(notes, store);
		tell_readings(notes, store);
		if (store->kind == STORE_VICTORIAMETRICS && store->settle_s < settled_s)
			note(notes,
			    "store %s: 'settle_s' is %g, but a victoriametrics that is "
			    "cut off loses what it took in the last ten seconds; write "
			    "%g or more",
			    store->name, store->settle_s, settled_s);
	}
	tell_credentials(notes);
}
