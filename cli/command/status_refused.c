/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/status_refused.h"

#include <inttypes.h>
#include <stdlib.h>

#include "cli/command/refusals.h"
#include "cli/page/page.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

static const int64_t LATELY_NS = INT64_C(86400) * CLOCK_SECOND_NS;

static int
take(void *arg, const struct ledger_refused *refused)
{
	refusals_add(arg, refused);
	return 0;
}

int
status_refused_read(struct status_refused *refused, struct ledger_read *ledger,
    const char *store, struct error *error)
{
	if (refused->lines == 0)
		return 0;
	struct refusals *refusals = calloc(1, sizeof *refusals);
	if (!refusals)
		return error_set(error, ERROR_MEMORY, "out of memory");
	refusals->since.ns = clock_wall().ns - LATELY_NS;
	int code = ledger_read_refusals(ledger, store, take, refusals, error);
	for (size_t i = 0; i < refusals->count; i++)
		refused->lately += refusals->list[i].lately;
	const struct refusals_kind *most = refusals_most_lately(refusals);
	if (most)
		text_copy(refused->words, sizeof refused->words, most->words);
	free(refusals);
	return code;
}

int
status_refused_put(
    struct page *page, const char *store, const struct status_refused *refused)
{
	const char *plural = refused->lines == 1 ? "" : "s";

	if (refused->lines == 0)
		return 0;
	if (refused->lately == 0) {
		page_note(page, NULL, TONE_PLAIN,
		    "store %s has refused %" PRId64 " line%s, none in the last 24 "
		    "hours, set aside here: 'evensoak resend %s --refused' (first with "
		    "--dry-run)",
		    store, refused->lines, plural, store);
		return 0;
	}
	const char *advice = refusals_advice(refused->words);
	page_note(page, NULL, TONE_BAD,
	    "wrong: store %s has refused %" PRId64 " line%s, %" PRId64
	    " in the last 24 "
	    "hours, set aside here: %s",
	    store, refused->lines, plural, refused->lately, refused->words);
	page_note(page, NULL, TONE_PLAIN,
	    "store %s: %s; then 'evensoak resend %s --refused' sends them again (first "
	    "with --dry-run: it tells which)",
	    store, advice ? advice : "mend what its words say", store);
	return 1;
}
