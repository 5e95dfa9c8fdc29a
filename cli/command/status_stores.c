/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_stores.h"

#include <stdlib.h>
#include <string.h>

#include "cli/wording/shown.h"
#include "cli/command/store_named.h"
#include "cli/page/page.h"
#include "conf/words.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static const char subject_start[] = "store ";

bool
status_stores_is_subject(const char *subject)
{
	return strncmp(subject, subject_start, strlen(subject_start)) == 0;
}

/* --- reading ---------------------------------------------------------------------------- */

struct reading {
	struct status_stores *stores;
	const struct settings *settings;
};

static struct status_store *
find(const struct status_stores *stores, const char *name)
{
	for (size_t i = 0; i < stores->count; i++)
		if (strcmp(stores->list[i].name, name) == 0)
			return &stores->list[i];
	return NULL;
}

/* 0, or ERROR_MEMORY. */
static int
add(struct reading *reading, const char *name)
{
	struct status_stores *stores = reading->stores;
	int index = store_named_index(reading->settings, name);

	if (find(stores, name))
		return 0;
	struct status_store *list =
	    reallocarray(stores->list, stores->count + 1, sizeof *list);
	if (!list)
		return ERROR_MEMORY;
	stores->list = list;
	struct status_store *store = &list[stores->count++];
	*store = (struct status_store){
	    .settings = index >= 0 ? &reading->settings->stores[index] : NULL};
	text_copy(store->name, sizeof store->name, name);
	return 0;
}

static int
take_name(void *arg, const char *name)
{
	return add(arg, name);
}

static struct status_store *
find_subject(const struct status_stores *stores, const char *subject)
{
	return status_stores_is_subject(subject)
	           ? find(stores, subject + strlen(subject_start))
	           : NULL;
}

const struct status_store *
status_stores_find(const struct status_stores *stores, const char *subject)
{
	return find_subject(stores, subject);
}

static int
take_health(void *arg, const struct ledger_health *health)
{
	const struct reading *reading = arg;
	struct status_store *store = find_subject(reading->stores, health->subject);

	if (!store)
		return 0;
	text_copy(store->state, sizeof store->state, health->state);
	text_copy(store->text, sizeof store->text, health->text);
	for (size_t i = strlen(store->text); i > 0 && store->text[i - 1] == ' ';)
		store->text[--i] = '\0';
	store->since = health->since;
	store->batches = health->good;
	store->failures = health->bad;
	return 0;
}

static int
read_lack(struct status_store *store, struct ledger_read *ledger, struct error *error)
{
	int code = ledger_read_lack(ledger, store->name, &store->lack, error);

	if (code != 0)
		return code;
	store->refused.lines = store->lack.refused;
	return status_refused_read(&store->refused, ledger, store->name, error);
}

int
status_stores_read(
    struct status_stores *stores, const struct session *session, struct error *error)
{
	const struct settings *settings = session->settings;
	struct reading reading = {stores, settings};
	bool whole = true;

	*stores = (struct status_stores){0};
	for (size_t i = 0; i < settings->store_count && whole; i++)
		whole = add(&reading, settings->stores[i].name) == 0;
	int code =
	    ledger_read_destinations(session->ledger, take_name, &reading, error);
	if (!whole)
		code = error_set(error, ERROR_MEMORY, "out of memory");
	if (code == 0)
		code =
		    ledger_read_health(session->ledger, take_health, &reading, error);
	for (size_t i = 0; i < stores->count && code == 0; i++)
		code = read_lack(&stores->list[i], session->ledger, error);
	return code;
}

void
status_stores_release(struct status_stores *stores)
{
	free(stores->list);
	*stores = (struct status_stores){0};
}

/* --- the table ---------------------------------------------------------------------------- */

bool
status_stores_is_failing(const struct status_store *store)
{
	return *store->state && strcmp(store->state, "starting") != 0 &&
	       trouble_of_word(store->state) != TROUBLE_NONE;
}

const char *
status_stores_words(const struct status_store *store)
{
	static const char *const words[TROUBLE_COUNT] = {
	    [TROUBLE_NONE] = "delivers",
	    [TROUBLE_UNREACHABLE] = "not reached",
	    [TROUBLE_SILENT] = "no answer in time",
	    [TROUBLE_BUSY] = "asks for time",
	    [TROUBLE_FAILING] = "has an error of its own",
	    [TROUBLE_LEDGER] = "stuck on our side",
	    [TROUBLE_UNKEPT] = "does not keep all",
	    [TROUBLE_LOGIN] = "holds: login",
	    [TROUBLE_RIGHTS] = "holds: rights",
	    [TROUBLE_MISSING] = "holds: not there",
	    [TROUBLE_CERTIFICATE] = "holds: certificate",
	    [TROUBLE_SECRET] = "holds: secret",
	    [TROUBLE_ADDRESS] = "holds: address",
	    [TROUBLE_FULL] = "holds: full",
	    [TROUBLE_REFUSES] = "holds: refuses all",
	};
	enum trouble trouble = trouble_of_word(store->state);

	if (!store->settings)
		return "not in the set-up";
	if (strcmp(store->state, "starting") == 0)
		return "not tried yet";
	return trouble < TROUBLE_COUNT ? words[trouble] : store->state;
}

static struct cell
state_cell(const struct status_store *store, bool current)
{
	struct cell cell = shown_name(current ? store->state : "");

	if (!current && store->settings)
		return cell;
	cell.instead = status_stores_words(store);
	if (cell.kind == CELL_ABSENT)
		cell.words = cell.instead;
	cell.tone = status_stores_is_failing(store)                 ? TONE_BAD
	            : trouble_of_word(store->state) == TROUBLE_NONE ? TONE_GOOD
	                                                            : TONE_PLAIN;
	return cell;
}

static struct cell
count_cell(int64_t count, enum page_tone tone)
{
	struct cell cell = cell_count(count);

	cell.tone = count > 0 ? tone : TONE_PLAIN;
	return cell;
}

/* The columns that the table always has, and those in which there is something. */
enum part {
	PART_ALWAYS,
	PART_STATE,
	PART_SINCE,
	PART_READINGS,
	PART_LOST,
	PART_SHIFTS
};
static const struct {
	struct column column;
	enum part part;
} parts[] = {
    {{"store", "store", 0}, PART_ALWAYS},
    {{"kind", "kind", 0}, PART_ALWAYS},
    {{"state", "state", 0}, PART_STATE},
    {{"since", "since", 0}, PART_SINCE},
    {{"backlog", "to send", 1}, PART_ALWAYS},
    {{"next_filed_at", "the first of", 1}, PART_ALWAYS},
    {{"events", "events", 1}, PART_ALWAYS},
    {{"shifts", "shifts", 1}, PART_SHIFTS},
    {{"refused", "refused", 1}, PART_ALWAYS},
    {{"moved_at", "last sent", 1}, PART_ALWAYS},
    {{"url", "at", 2}, PART_ALWAYS},
    {{"readings", "readings", 2}, PART_READINGS},
    {{"lost_readings", "dropped", 2}, PART_LOST},
    {{"batches", NULL, 0}, PART_ALWAYS},
    {{"failures", NULL, 0}, PART_ALWAYS},
    {{"why", NULL, 0}, PART_ALWAYS},
};
enum { PARTS = sizeof parts / sizeof parts[0] };

static bool
is_shown(const struct status_stores *stores, enum part part, bool current)
{
	for (size_t i = 0; i < stores->count; i++) {
		const struct status_store *store = &stores->list[i];
		bool wants = store->settings && store->settings->reading_period_s > 0;

		if ((part == PART_STATE && !store->settings) ||
		    (part == PART_READINGS && (wants || store->lack.readings > 0)) ||
		    (part == PART_SHIFTS && store->lack.shifts > 0) ||
		    (part == PART_LOST && store->lack.lost > 0))
			return true;
	}
	return part == PART_ALWAYS ||
	       (current && (part == PART_STATE || part == PART_SINCE));
}

static void
put_row(struct page *page, const struct status_store *store, bool current)
{
	const struct store_settings *settings = store->settings;
	const struct ledger_lack *lack = &store->lack;
	bool known = current && *store->state;
	const struct cell cells[PARTS] = {
	    cell_words(store->name),
	    cell_words(settings ? words_store.list[settings->kind] : NULL),
	    state_cell(store, current),
	    cell_time(known ? store->since : (struct wall){0}),
	    cell_count(lack->shots),
	    cell_time(lack->next),
	    cell_count(lack->events),
	    cell_count(lack->shifts),
	    count_cell(lack->refused, TONE_BAD),
	    cell_time(lack->moved),
	    cell_words(settings ? settings->url : NULL),
	    cell_count(lack->readings),
	    count_cell(lack->lost, TONE_BAD),
	    known ? cell_count(store->batches) : cell_absent(NULL),
	    known ? cell_count(store->failures) : cell_absent(NULL),
	    shown_name(known && status_stores_is_failing(store) ? store->text : ""),
	};
	page_row(page, cells);
}

void
status_stores_put(struct page *page, const struct status_stores *stores, bool current)
{
	struct column columns[PARTS];

	if (stores->count == 0)
		return;
	for (size_t i = 0; i < PARTS; i++) {
		columns[i] = parts[i].column;
		if (!is_shown(stores, parts[i].part, current))
			columns[i].title = NULL;
	}
	page_table(page, "stores",
	    current ? "Stores" : "Stores, as the ledger has them", columns, PARTS);
	for (size_t i = 0; i < stores->count; i++)
		put_row(page, &stores->list[i], current);
	page_table_end(page);
}
