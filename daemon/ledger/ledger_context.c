/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/ledger/ledger.h"

#include <stdio.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_inside.h"

enum {
	LABEL_BYTES = 63, /* of a tool or a lot: what a reader's buffer holds */
	NOTE_BYTES = 255,
};

const char *
context_key_text(enum context_key key)
{
	switch (key) {
	case CONTEXT_RECIPE:
		return "recipe";
	case CONTEXT_TOOL:
		return "tool";
	case CONTEXT_LOT:
		return "lot";
	case CONTEXT_NOTE:
		return "note";
	case CONTEXT_KEY_COUNT:
		break;
	}
	return "";
}

/* What somebody says, checked. */
struct entry {
	int64_t line;
	enum context_key key;
	char value[NOTE_BYTES + 1];
	int64_t number; /* of a recipe; -1: unknown from here on */
	struct wall from, entered;
};

static int
set_value(struct entry *entry, const char *value, struct error *error)
{
	size_t maximum = entry->key == CONTEXT_NOTE ? NOTE_BYTES : LABEL_BYTES;

	if (strlen(value) > maximum)
		return error_set(
		    error, ERROR_INVALID, "it is longer than %zu bytes", maximum);
	if (entry->key == CONTEXT_NOTE && value[0] == '\0')
		return error_set(error, ERROR_INVALID, "it is empty");
	text_copy(entry->value, sizeof entry->value, value);
	entry->number = -1;
	if (entry->key != CONTEXT_RECIPE || value[0] == '\0')
		return 0;
	if (!text_integer(value, &entry->number) || entry->number < 0)
		return error_set(
		    error, ERROR_INVALID, "'%s' is not the number of a recipe", value);
	snprintf(entry->value, sizeof entry->value, "%lld", (long long)entry->number);
	return 0;
}

static int
put_entry(struct ledger *ledger, const struct entry *entry, struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_PUT_CONTEXT);

	bind_integer(&binding, entry->line);
	bind_text(&binding, context_key_text(entry->key));
	bind_text(&binding, entry->value);
	bind_integer(&binding, entry->from.ns);
	bind_integer(&binding, entry->entered.ns);
	return ledger_run(ledger, &binding, error);
}

/* When the next entry of the key takes over; the end of time when there is none. */
static int
span_end(struct ledger *ledger, const struct entry *entry, struct wall *end,
    struct error *error)
{
	struct binding binding = ledger_bind(ledger, STATEMENT_SPAN_END);

	bind_integer(&binding, entry->line);
	bind_text(&binding, context_key_text(entry->key));
	bind_integer(&binding, entry->from.ns);
	int code = ledger_integer(ledger, &binding, &end->ns, error);
	if (code == 0 && end->ns == 0)
		end->ns = INT64_MAX;
	return code;
}

static int
relabel(struct ledger *ledger, const struct entry *entry, int64_t *relabelled,
    struct error *error)
{
	enum ledger_statement statement =
	    entry->key == CONTEXT_RECIPE ? STATEMENT_RELABEL_RECIPE
	    : entry->key == CONTEXT_TOOL ? STATEMENT_RELABEL_TOOL
					 : STATEMENT_RELABEL_LOT;
	struct wall end = {0};
	int64_t change = 0;
	int code = span_end(ledger, entry, &end, error);

	if (code == 0)
		code = ledger_next_change(ledger, &change, error);
	if (code != 0)
		return code;
	struct binding binding = ledger_bind(ledger, statement);
	bind_integer(&binding, entry->line);
	bind_integer(&binding, entry->from.ns);
	bind_integer(&binding, end.ns);
	if (entry->key == CONTEXT_RECIPE)
		bind_known(&binding, entry->number);
	else
		bind_label(&binding, entry->value);
	bind_integer(&binding, change);
	code = ledger_run(ledger, &binding, error);
	if (code == 0)
		*relabelled = sqlite3_changes64(ledger->db);
	return code;
}

static int
put_and_relabel(struct ledger *ledger, const char *line, struct entry *entry,
    int64_t *relabelled, struct error *error)
{
	int code = ledger_line_id(ledger, line, &entry->line, error);

	if (code == 0)
		code = put_entry(ledger, entry, error);
	if (code == 0 && entry->key != CONTEXT_NOTE)
		code = relabel(ledger, entry, relabelled, error);
	return code;
}

int
ledger_put_context(struct ledger *ledger, const struct ledger_entry *said,
    int64_t *relabelled, struct error *error)
{
	struct entry entry = {
	    .key = said->key, .from = said->from, .entered = said->entered};
	int64_t count = 0;
	int code = set_value(&entry, said->value, error);

	if (code == 0)
		code = ledger_begin(ledger, error);
	if (code == 0) {
		code = put_and_relabel(ledger, said->line, &entry, &count, error);
		code = ledger_end(ledger, code, error);
	}
	if (code != 0)
		return error_prefix(error, ledger_explain(ledger, code, error),
		    "enter the %s of '%s'", context_key_text(said->key), said->line);
	*relabelled = count;
	return 0;
}
