/* SPDX-License-Identifier: GPL-3.0-or-later */
/* What is found in a shift, as a report finds it, and told once a shift. */
#include "cli/command/close_shifts.h"

#include <inttypes.h>
#include <math.h>
#include <stdio.h>
#include <string.h>

#include "cli/command/found.h"
#include "cli/wording/shown.h"
#include "daemon/base/text.h"

enum { EVENT_TEXT = 256 };

struct filing {
	struct closing *closing;
	int line;
	const struct close_span *span;
};

/* "dead zone, top pyrometer 2, recipe 3, tool 17: likely, from shot 412 on; what it is": the
 * words before the colon are the same as long as it is the same finding. */
static size_t
write_text(char text[static EVENT_TEXT], const struct found *found,
    const struct finding *finding)
{
	char cause[40], subject[FOUND_SUBJECT], kind[KIND_TEXT];
	char what[FINDING_TEXT], look[FINDING_TEXT], whole[2 * FINDING_TEXT];

	shown_words(finding_cause_text(finding->cause), cause, sizeof cause);
	found_subject(finding, found->kind.side, subject);
	kind_words(&found->kind, kind);
	finding_tell(finding, what, look);
	int words = snprintf(whole, sizeof whole, "%s%s%.60s, %.80s", cause,
	    *subject ? ", " : "", subject, kind);
	snprintf(whole + words, sizeof whole - (size_t)words,
	    ": %s, from shot %" PRId64 " on%s; %s", finding_sure_text(finding->sure),
	    finding->first_shot, finding->lasting ? "" : ", over by the end", what);
	text_copy(text, EVENT_TEXT, whole);
	return (size_t)words;
}

static int
file_one(const struct filing *filing, const struct found *found,
    const struct finding *finding, struct error *error)
{
	struct closing *closing = filing->closing;
	const struct close_span *span = filing->span;
	const char *line = closing->session->settings->lines[filing->line].name;
	char text[EVENT_TEXT];
	bool filed = false;
	struct wall at = finding->first_at;

	if (at.ns < span->from.ns) /* it has lasted since an earlier shift */
		at = span->from;
	size_t words = write_text(text, found, finding);
	const struct ledger_finding event = {
	    line, span->from, span->to, at, text, words};
	int code =
	    ledger_put_finding(closing->ledger, &event, closing->dry, &filed, error);
	if (code == 0 && filed)
		closing->tell_finding(closing->arg, line, span, text);
	return code;
}

static int
file_all(const struct filing *filing, const struct found_all *all, struct error *error)
{
	int code = 0;

	for (size_t i = 0; i < all->count; i++)
		for (size_t k = 0; k < all->list[i].count && code == 0; k++) {
			const struct finding *finding = &all->list[i].list[k];
			if (finding->cause != FINDING_DISAGREES &&
			    finding->sure >= FINDING_LIKELY)
				code = file_one(filing, &all->list[i], finding, error);
		}
	return code;
}

int
close_found(struct closing *closing, int line, const struct close_span *span, bool file,
    double *count, struct error *error)
{
	const struct found_asked asked = {line, span->from, span->to, NULL};
	const struct filing filing = {closing, line, span};
	struct found_all all;
	int code = found_read_span(&all, closing->session, &asked, error);

	*count = NAN;
	for (size_t i = 0; code == 0 && i < all.count; i++)
		if (!*all.list[i].trouble)
			*count =
			    (isnan(*count) ? 0 : *count) + (double)all.list[i].in_all;
	if (code == 0 && file)
		code = file_all(&filing, &all, error);
	found_release(&all);
	return code;
}
