/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/stores.h"

#include <string.h>

#include "conf/draft.h"
#include "conf/ledger_file.h"
#include "conf/words.h"
#include "daemon/base/text.h"

/* What VictoriaMetrics acknowledges is on its disk later.  Measured with 1.79.5: killed
 * six seconds after a 204 it had lost all of it, after twelve nothing. */
static const double settle_s[STORE_KIND_COUNT] = {[STORE_VICTORIAMETRICS] = 30};

/* What a kind of store knows. */
static const struct traits {
	bool database, organization; /* there must be one */
	bool users, tokens;
} traits[STORE_KIND_COUNT] = {
    [STORE_INFLUXDB1] = {.database = true, .users = true},
    [STORE_INFLUXDB2] = {.database = true, .organization = true, .tokens = true},
    [STORE_INFLUXDB3] = {.database = true, .tokens = true},
    [STORE_VICTORIAMETRICS] = {.users = true, .tokens = true},
};

bool
stores_is_https(const char *url)
{
	return strncmp(url, "https://", strlen("https://")) == 0;
}

/* --- one store -------------------------------------------------------------------- */

static void
check_names(struct draft *draft, struct part *part, const struct traits *kind)
{
	if (kind->database && !part_has(part, "database"))
		part_refuse(draft, part, NULL,
		    "'database' is missing in %s: write the data base, of an influxdb2 "
		    "the bucket",
		    part->source->title);
	if (kind->organization && !part_has(part, "organization"))
		part_refuse(draft, part, NULL,
		    "'organization' is missing in %s: write the one that the bucket is "
		    "in",
		    part->source->title);
	if (!kind->organization && part_has(part, "organization"))
		part_refuse(draft, part, "organization",
		    "'organization' is of an influxdb2 alone: leave it out");
}

/* Two secrets, or half of a user. */
static void
check_secrets(struct draft *draft, struct part *part)
{
	static const char *const secrets[] = {
	    "password_file", "token_file", "credential"};
	bool has_user = part_has(part, "user");
	const char *first = NULL;

	for (size_t i = 0; i < sizeof secrets / sizeof secrets[0]; i++) {
		if (!part_has(part, secrets[i]))
			continue;
		if (first)
			part_refuse(draft, part, secrets[i],
			    "'%s' stands beside '%s': a store has one secret, leave "
			    "one of them out",
			    secrets[i], first);
		first = secrets[i];
	}
	if (has_user && part_has(part, "token_file"))
		part_refuse(draft, part, "user",
		    "'user' stands beside 'token_file': a token needs no user, leave "
		    "one of them out");
	else if (has_user && !first)
		part_refuse(draft, part, "user",
		    "'user' stands without 'password_file': write both or neither");
	if (!has_user && part_has(part, "password_file"))
		part_refuse(draft, part, "password_file",
		    "'password_file' stands without 'user': write both or neither");
}

/* A login that the kind of store does not have. */
static void
check_login(struct draft *draft, struct part *part, const struct traits *kind)
{
	const char *word = words_store.list[part->as.store.kind];
	bool has_user = part_has(part, "user");

	if (!kind->users && has_user)
		part_refuse(draft, part, "user",
		    "'user' is not of an %s, which knows tokens: write 'token_file', "
		    "or 'credential' without 'user'",
		    word);
	if (kind->tokens || has_user)
		return;
	if (part_has(part, "token_file"))
		part_refuse(draft, part, "token_file",
		    "'token_file' is not of an %s, which knows users: write 'user' and "
		    "'password_file'",
		    word);
	else if (part_has(part, "credential"))
		part_refuse(draft, part, "credential",
		    "'credential' alone is a token, and an %s knows users: write "
		    "'user' too",
		    word);
}

static void
check_tls(struct draft *draft, struct part *part)
{
	static const char *const settings[] = {"ca_file", "verify"};
	const struct store_settings *store = &part->as.store;

	if (!part_sound(part, "url") || stores_is_https(store->url) ||
	    stores_is_https(store->query_url))
		return;
	for (size_t i = 0; i < sizeof settings / sizeof settings[0]; i++)
		if (part_has(part, settings[i]))
			part_refuse(draft, part, settings[i],
			    "'%s' is about https, but 'url' is '%s': write https:// "
			    "there, or leave it out",
			    settings[i], store->url);
}

static void
check_file(struct draft *draft, struct part *part, const char *setting,
    char path[static SETTINGS_PATH])
{
	part_complete_path(draft, part, setting, path);
	ledger_file_refuse(draft, part, setting, path);
}

static void
check_store(struct draft *draft, struct part *part)
{
	struct store_settings *store = &part->as.store;

	text_copy(store->name, SETTINGS_NAME, part->source->name);
	check_file(draft, part, "password_file", store->password_file);
	check_file(draft, part, "token_file", store->token_file);
	check_file(draft, part, "ca_file", store->ca_file);
	check_secrets(draft, part);
	check_tls(draft, part);
	if (!part_sound(part, "kind"))
		return;
	if (!part_has(part, "settle_s"))
		store->settle_s = settle_s[store->kind];
	check_names(draft, part, &traits[store->kind]);
	check_login(draft, part, &traits[store->kind]);
}

/* --- two stores ------------------------------------------------------------------- */

/* A '/' at the end leads nowhere else. */
static bool
is_same_url(const char *one, const char *other)
{
	size_t length = strlen(one), other_length = strlen(other);

	while (length > 0 && one[length - 1] == '/')
		length--;
	while (other_length > 0 && other[other_length - 1] == '/')
		other_length--;
	return length == other_length && strncmp(one, other, length) == 0;
}

static bool
is_same_place(const struct store_settings *one, const struct store_settings *other)
{
	return one->kind == other->kind && is_same_url(one->url, other->url) &&
	       strcmp(one->database, other->database) == 0 &&
	       strcmp(one->organization, other->organization) == 0;
}

static void
check_twins(struct draft *draft, struct part *part)
{
	const struct part *twin = NULL;

	while (!part->bad && (twin = draft_next(draft, SECTION_STORE, twin)) != part)
		if (!twin->bad && is_same_place(&twin->as.store, &part->as.store))
			part_refuse(draft, part, NULL,
			    "%s is the same as %s in line %d: everything would go out "
			    "twice, leave one out",
			    part->source->title, twin->source->title,
			    twin->source->line);
}

void
stores_check(struct draft *draft)
{
	struct part *part = NULL;

	while ((part = draft_next(draft, SECTION_STORE, part)) != NULL)
		check_store(draft, part);
	while ((part = draft_next(draft, SECTION_STORE, part)) != NULL)
		check_twins(draft, part);
}
