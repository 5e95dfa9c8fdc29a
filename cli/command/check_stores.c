/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_stores.h"

#include <math.h>
#include <string.h>

#include "cli/command/store_files.h"
#include "cli/page/page.h"
#include "conf/settings.h"
#include "conf/words.h"
#include "daemon/base/text.h"
#include "daemon/publish/store.h"

enum { URL_MOST = 4 * SETTINGS_PATH };

static const char *
login_word(const struct store_settings *store)
{
	if (*store->credential)
		return "credential";
	if (*store->token_file)
		return "token";
	return *store->user ? "user" : "none";
}

/* --- the table ---------------------------------------------------------------------------- */

static const struct column columns[] = {
    {"store", "store", 0},
    {"kind", "kind", 0},
    {"database", "data base", 0},
    {"settle_s", "settle_s", 0},
    {"readings_s", "readings_s", 0},
    {"login", "login", 1},
    {"user", "user", 1},
    {"organization", "organization", 1},
    {"write_url", "lines go to", 2},
    {"query_url", "asked at", 3},
};
enum {
	COLUMNS = sizeof columns / sizeof columns[0],
	COLUMN_USER = 6,
	COLUMN_ORGANIZATION = 7,
};

static struct cell
word_cell(const char *word)
{
	return cell_words(*word ? word : NULL);
}

/* People read it without what stands behind the '?': that is in columns of its own. */
struct shown_url {
	struct text whole;
	char shown[SETTINGS_PATH + 64];
};

static struct cell
url_cell(struct shown_url *url, int failed)
{
	struct cell cell = cell_words(failed ? NULL : url->whole.bytes);

	if (!failed) {
		text_copy(url->shown, sizeof url->shown, url->whole.bytes);
		url->shown[strcspn(url->shown, "?")] = '\0';
		cell.instead = url->shown;
	}
	return cell;
}

/* As many digits as it was written with, near enough. */
static struct cell
seconds_cell(double seconds)
{
	int digits = 0;
	double whole = seconds;

	while (digits < 3 && fabs(whole - round(whole)) > 1e-6) {
		whole *= 10;
		digits++;
	}
	return cell_number(seconds, digits);
}

static void
put_row(struct page *page, const struct store_settings *store)
{
	struct shown_url write, query;

	text_init(&write.whole, URL_MOST);
	text_init(&query.whole, URL_MOST);
	int write_failed = store_write_url(store, &write.whole, NULL);
	int query_failed = store_query_url(store, "", &query.whole, NULL);
	const struct cell cells[COLUMNS] = {
	    cell_words(store->name),
	    cell_words(words_store.list[store->kind]),
	    word_cell(store->database),
	    seconds_cell(store->settle_s),
	    seconds_cell(store->reading_period_s),
	    cell_words(login_word(store)),
	    word_cell(store->user),
	    word_cell(store->organization),
	    url_cell(&write, write_failed),
	    url_cell(&query, query_failed),
	};
	page_row(page, cells);
	text_release(&write.whole);
	text_release(&query.whole);
}

static void
put_table(struct page *page, const struct settings *settings)
{
	struct column shown[COLUMNS];
	bool users = false, organizations = false;

	for (size_t i = 0; i < settings->store_count; i++) {
		users |= *settings->stores[i].user != '\0';
		organizations |= *settings->stores[i].organization != '\0';
	}
	for (size_t i = 0; i < COLUMNS; i++)
		shown[i] = columns[i];
	if (!users)
		shown[COLUMN_USER].title = NULL;
	if (!organizations)
		shown[COLUMN_ORGANIZATION].title = NULL;
	page_table(page, "stores", "Stores", shown, COLUMNS);
	for (size_t i = 0; i < settings->store_count; i++)
		put_row(page, &settings->stores[i]);
	page_table_end(page);
}

/* --- their files -------------------------------------------------------------------------- */

struct putting {
	struct page *page;
	bool wrong;
};

static void
put_sentence(void *arg, bool wrong, const char *sentence)
{
	const struct putting *putting = arg;
	struct page *page = putting->page;

	if (wrong != putting->wrong)
		return;
	page_open(page, GROUP_ITEM, NULL, NULL);
	page_note(page, NULL, wrong ? TONE_BAD : TONE_PLAIN, "%s: %s",
	    wrong ? "wrong" : "note", sentence);
	page_field(page, "text", NULL, cell_words(sentence));
	page_close(page);
}

void
check_stores_put(struct page *page, const struct settings *settings)
{
	struct putting putting = {page, true};

	put_table(page, settings);
	page_open(page, GROUP_LIST, "wrong", NULL);
	store_files_tell(settings, put_sentence, &putting);
	page_close(page);
}

void
check_stores_put_notes(struct page *page, const struct settings *settings)
{
	struct putting putting = {page, false};

	store_files_tell(settings, put_sentence, &putting);
}
