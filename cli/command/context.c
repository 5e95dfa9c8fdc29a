/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <inttypes.h>
#include <math.h>
#include <string.h>

#include "cli/command/context_lot.h"
#include "cli/command/context_remark.h"
#include "cli/command/session.h"
#include "cli/command/span.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/ledger/ledger_read.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

enum { DAY_S = 24 * 60 * 60 };

/* Most entries are of no lot, or of one that nobody measured. */
static struct cell
blank_unless_known(struct cell cell)
{
	if (cell.kind == CELL_ABSENT)
		cell.words = "";
	return cell;
}

struct listing {
	const struct session *session;
	struct page *page;
	struct error *error;
	int code;
};

static int
take_entry(void *arg, const struct ledger_context *entry)
{
	struct listing *listing = arg;
	const struct settings *settings = listing->session->settings;
	struct ledger_lot lot = {.thickness_m = NAN, .stack_c = NAN};
	struct cell value = cell_words(entry->value);

	if (strcmp(entry->key, context_key_text(CONTEXT_LOT)) == 0 && *entry->value)
		listing->code = ledger_read_lot_at(listing->session->ledger,
		    entry->value, entry->entered, &lot, listing->error);
	if (!*entry->value)
		value.instead = "(unknown)";
	const struct cell cells[] = {
	    cell_words(entry->line),
	    cell_time(entry->from),
	    cell_words(entry->key),
	    value,
	    cell_time(entry->entered),
	    blank_unless_known(context_lot_thickness(settings, &lot)),
	    blank_unless_known(context_lot_stack(settings, &lot)),
	    blank_unless_known(context_lot_material(&lot)),
	};
	page_row(listing->page, cells);
	return listing->code;
}

static enum command_exit
list_entries(const struct call *call, const struct session *session, const char *line)
{
	char thickness[32], stack[32];
	const struct column columns[] = {
	    {"line", NULL, 0},
	    {"from", "from", 0},
	    {"key", "what", 0},
	    {"value", "value", 0},
	    {"entered", "entered", 0},
	    {"thickness_m", thickness, 0},
	    {"stack_c", stack, 0},
	    {"material", "material", 0},
	};
	struct error error;
	struct listing listing = {session, command_page(call), &error, 0};

	if (!listing.page)
		return COMMAND_CANNOT;
	snprintf(thickness, sizeof thickness, "thickness %s",
	    unit_text(unit_shown(DIMENSION_LENGTH, session->settings->temperature)));
	snprintf(
	    stack, sizeof stack, "stack %s", unit_text(session->settings->temperature));
	page_field(listing.page, "line", "line", cell_words(line));
	page_table(listing.page, "entries", NULL, columns, COUNT(columns));
	int code =
	    ledger_read_context(session->ledger, line, take_entry, &listing, &error);
	if (code == 0)
		code = listing.code;
	page_table_end(listing.page);
	return command_end_page(call, listing.page,
	    code != 0 ? command_cannot(call, &error) : COMMAND_DONE);
}

static enum command_exit
read_key(const struct call *call, enum context_key *key)
{
	const char *names[CONTEXT_KEY_COUNT];
	const char *word = call->argument[0];

	for (int i = 0; i < CONTEXT_KEY_COUNT; i++) {
		names[i] = context_key_text((enum context_key)i);
		if (strcmp(word, names[i]) == 0) {
			*key = (enum context_key)i;
			return COMMAND_DONE;
		}
	}
	const char *near = text_nearest(word, names, CONTEXT_KEY_COUNT);
	if (near)
		return command_usage(
		    call, "'%s' is no context; did you mean '%s'?", word, near);
	return command_usage(
	    call, "'%s' is no context, must be recipe, tool, lot or note", word);
}

/* What was measured belongs to a lot with a name. */
static enum command_exit
read_lot(const struct call *call, const struct settings *settings, enum context_key key,
    struct lot_said *said)
{
	enum command_exit code = context_lot_read(call, settings, said);

	if (code == COMMAND_DONE && context_lot_given(said) &&
	    (key != CONTEXT_LOT || !*call->argument[1]))
		return command_usage(
		    call, "'--thickness', '--stack' and '--material' are of a lot");
	said->lot.name = call->argument[1];
	return code;
}

/* --- entering ------------------------------------------------------------------------ */

static enum command_exit
tell_entry(const struct call *call, const struct session *session,
    const struct ledger_entry *entry, const struct ledger_lot *lot, int64_t relabelled)
{
	struct page *page = command_page(call);

	if (!page)
		return COMMAND_CANNOT;
	page_field(page, "line", "line", cell_words(entry->line));
	page_field(page, "key", "what", cell_words(context_key_text(entry->key)));
	page_field(page, "value", "value", cell_words(entry->value));
	page_field(page, "from", "from", cell_time(entry->from));
	page_field(page, "relabelled", "shots relabelled", cell_count(relabelled));
	if (entry->key == CONTEXT_LOT)
		context_lot_fields(page, session->settings, lot);
	return command_end_page(call, page, COMMAND_DONE);
}

static enum command_exit
write_entry(const struct call *call, const struct session *session,
    struct ledger_entry *entry, struct lot_said *said)
{
	int64_t labelled = 0, of_material = 0;
	struct earlier_label earlier = {{0}};
	struct error error;
	struct ledger *ledger = ledger_open(session->path, NULL, &error);
	int code = 0;

	if (!ledger)
		return command_cannot(call, &error);
	entry->entered = said->lot.entered = clock_wall();
	if (entry->from.ns == 0)
		entry->from = entry->entered;
	if (entry->from.ns - entry->entered.ns > DAY_S * CLOCK_SECOND_NS)
		fprintf(call->err, "evensoak: note: '--from' is more than a day ahead: "
				   "shots until then do not have it\n");
	context_remark_earlier_label(session, entry, &earlier);
	if (context_lot_given(said))
		code =
		    context_lot_put(call, ledger, session, said, &of_material, &error);
	if (code == 0)
		code = ledger_put_context(ledger, entry, &labelled, &error);
	ledger_close(ledger);
	if (code != 0)
		return code == ERROR_INVALID ? command_usage(call, "%s", error.text)
		                             : command_cannot(call, &error);
	context_remark_rivals(call, session, entry);
	context_remark_recompute(call, session->settings, entry, &earlier, labelled);
	if (context_lot_given(said) || (entry->key == CONTEXT_LOT && labelled > 0))
		context_lot_remark_earlier(call, session, said);
	return tell_entry(call, session, entry, &said->lot, labelled + of_material);
}

static enum command_exit
set_entry(const struct call *call, const struct session *session, const char *line)
{
	struct ledger_entry entry = {.line = line};
	struct lot_said said;
	enum command_exit code = read_key(call, &entry.key);

	if (code != COMMAND_DONE)
		return code;
	if (call->argument_count < 2)
		return command_usage(call, "'%s' needs a value", call->argument[0]);
	code = read_lot(call, session->settings, entry.key, &said);
	if (code == COMMAND_DONE && call->option[OPTION_FROM])
		code = span_read_time(call, OPTION_FROM, &entry.from);
	if (code != COMMAND_DONE)
		return code;
	entry.value = call->argument[1];
	context_remark_unknown(call, session->settings, entry.key, entry.value);
	return write_entry(call, session, &entry, &said);
}

static enum command_exit
list_or_set(const struct call *call, const struct session *session)
{
	int line;
	enum command_exit code = session_one_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	const char *name = session->settings->lines[line].name;
	return call->argument_count == 0 ? list_entries(call, session, name)
	                                 : set_entry(call, session, name);
}

static enum command_exit
run_context(const struct call *call)
{
	return session_run(call, list_or_set);
}

const struct command command_context = {
    .name = "context",
    .arguments = "[recipe NUMBER | tool NAME | lot NAME | note TEXT]",
    .summary = "which recipe, tool and lot ran, from when on",
    .details =
	"Without arguments: what was entered for the line. With them:\n"
	"enters a value that holds from now, or from --from, until the next\n"
	"one; shots on file are labelled anew. An empty value: unknown from\n"
	"then on. A recipe read from the machine wins.\n"
	"A lot may carry what was measured of its sheets: lot A-0413\n"
	"--thickness 6.35 mm --stack 23 C, and --material where they are of\n"
	"another than their recipe says, which then is their label too; \"\" for\n"
	"one of these: not known any more, so as the set-up says. For a lot\n"
	"that ran before, say --from the time it began. The list has each entry as "
	"entered; the last\n"
	"measure of a lot is that of all its shots: of those made before, once\n"
	"'evensoak recompute' has made them again.",
    .options = OPTION_BIT(OPTION_LINE) | OPTION_BIT(OPTION_FROM) |
               OPTION_BIT(OPTION_THICKNESS) | OPTION_BIT(OPTION_STACK) |
               OPTION_BIT(OPTION_MATERIAL),
    .argument_most = 2,
    .csv_table = "entries",
    .run = run_context,
};
