/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/command.h"

#include <string.h>

#include "cli/command/reference_freeze.h"
#include "cli/command/reference_known.h"
#include "cli/command/reference_show.h"
#include "cli/command/session.h"
#include "cli/wording/shown.h"
#include "cli/command/span.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

#define COUNT(array) (sizeof(array) / sizeof((array)[0]))

/* --- the list ------------------------------------------------------------------------- */

struct listing {
	struct page *page;
	const char *line; /* NULL: all */
	int64_t count;
};

static int
take_reference(void *arg, const struct ledger_reference *reference)
{
	struct listing *listing = arg;

	if (listing->line && strcmp(listing->line, reference->line) != 0)
		return 0;
	const struct cell cells[] = {
	    cell_words(reference->name),
	    cell_words(reference->line),
	    shown_name(reference->side),
	    shown_name(reference->recipe),
	    shown_name(reference->tool),
	    cell_count(reference->shots),
	    cell_time(reference->from),
	    cell_time(reference->to),
	    cell_time(reference->frozen),
	    cell_time(reference->withdrawn),
	    cell_count(reference->setup),
	    shown_name(reference->note),
	};
	page_row(listing->page, cells);
	listing->count++;
	return 0;
}

static int
count_withdrawn(void *arg, const struct ledger_reference *reference)
{
	*(int64_t *)arg += reference->withdrawn.ns != 0;
	return 0;
}

static bool
has_sides(const struct settings *settings)
{
	bool sides = false;

	for (size_t i = 0; i < settings->line_count; i++)
		sides |= settings->lines[i].side_count > 1;
	return sides;
}

static enum command_exit
list_references(const struct call *call, const struct session *session)
{
	int64_t withdrawn = 0;
	struct error error;
	if (ledger_read_references(
		session->ledger, count_withdrawn, &withdrawn, &error) != 0)
		return command_cannot(call, &error);
	const struct column columns[] = {
	    {"name", "name", 0},
	    {"line", "line", 0},
	    {"side", has_sides(session->settings) ? "side" : NULL, 0},
	    {"recipe", "recipe", 0},
	    {"tool", "tool", 0},
	    {"shots", "shots", 0},
	    {"from", "from", 0},
	    {"to", "to", 0},
	    {"frozen", NULL, 0},
	    {"withdrawn", withdrawn > 0 ? "withdrawn" : NULL, 0},
	    {"setup", NULL, 0},
	    {"note", "note", 0},
	};
	int line;
	enum command_exit code = session_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	struct listing listing = {
	    .page = command_page_of(call, "references"),
	    .line = line >= 0 ? session->settings->lines[line].name : NULL,
	};
	if (!listing.page)
		return COMMAND_CANNOT;
	page_table(
	    listing.page, "references", "Reference runs", columns, COUNT(columns));
	int failed =
	    ledger_read_references(session->ledger, take_reference, &listing, &error);
	page_table_end(listing.page);
	if (failed == 0 && listing.count == 0)
		page_note(listing.page, NULL, TONE_PLAIN,
		    "no reference run is frozen: evensoak reference freeze NAME, over "
		    "a time in which all was well");
	return command_end_page(
	    call, listing.page, failed ? command_cannot(call, &error) : COMMAND_DONE);
}

/* --- withdrawing it ------------------------------------------------------------------- */

static enum command_exit
tell_withdrawn(const struct call *call, const struct session *session)
{
	struct reference_known known, newest;
	struct error error;
	char words[KIND_TEXT];

	if (reference_named(&known, session->ledger, call->argument[1], &error) != 0 ||
	    reference_newest(&newest, session->ledger, &known.kind, &error) != 0)
		return command_cannot(call, &error);
	struct page *page = command_page(call);
	if (!page)
		return COMMAND_CANNOT;
	kind_words(&known.kind, words);
	page_field(page, "name", "withdrawn", cell_words(known.name));
	page_field(page, "withdrawn", "at", cell_time(known.withdrawn));
	page_field(page, "newest", "newest now",
	    newest.id != 0 ? cell_words(newest.name) : cell_absent(NULL));
	page_note(page, NULL, TONE_PLAIN,
	    "no shot is held against it any more; it stays on file and its name stays "
	    "taken. Shots of %s are held against %s%s.",
	    words, newest.id != 0 ? "reference " : "nothing until another is frozen",
	    newest.id != 0 ? newest.name : "");
	return command_end_page(call, page, COMMAND_DONE);
}

static enum command_exit
withdraw_reference(const struct call *call, const struct session *session)
{
	struct error error;
	struct ledger *ledger = ledger_open(session->path, NULL, &error);

	if (!ledger)
		return command_cannot(call, &error);
	int code =
	    ledger_withdraw_reference(ledger, call->argument[1], clock_wall(), &error);
	ledger_close(ledger);
	if (code == ERROR_NOT_FOUND || code == ERROR_INVALID) {
		fprintf(call->err, "evensoak: %s\n", error.text);
		return COMMAND_NO;
	}
	return code != 0 ? command_cannot(call, &error) : tell_withdrawn(call, session);
}

/* --- which ------------------------------------------------------------------------------ */

static const struct {
	const char *word;
	enum command_exit (*run)(
	    const struct call *call, const struct session *session);
	option_set options;
} words_of[] = {
    {"freeze", reference_freeze,
	OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS | OPTION_BIT(OPTION_RECIPE) |
	    OPTION_BIT(OPTION_TOOL) | OPTION_BIT(OPTION_SIDE) |
	    OPTION_BIT(OPTION_NOTE)},
    {"show", reference_show, 0},
    {"withdraw", withdraw_reference, 0},
};

static enum command_exit
refuse_word(const struct call *call, const char *word)
{
	const char *words[COUNT(words_of)];

	for (size_t i = 0; i < COUNT(words_of); i++)
		words[i] = words_of[i].word;
	const char *near = text_nearest(word, words, COUNT(words));
	return command_usage(call, "there is no 'reference %s'%s%s%s", word,
	    near ? "; did you mean '" : ", must be freeze, show or withdraw",
	    near ? near : "", near ? "'?" : "");
}

static enum command_exit
run_reference(const struct call *call)
{
	const char *word = call->argument_count > 0 ? call->argument[0] : NULL;
	enum command_exit code;
	size_t i = 0;

	if (!word) {
		code = command_refuse_options(call, "", OPTION_BIT(OPTION_LINE));
		return code == COMMAND_DONE ? session_run(call, list_references) : code;
	}
	while (i < COUNT(words_of) && strcmp(word, words_of[i].word) != 0)
		i++;
	if (i == COUNT(words_of))
		return refuse_word(call, word);
	if (call->argument_count < 2)
		return command_usage(call, "'reference %s' needs NAME", word);
	code = command_refuse_options(call, word, words_of[i].options);
	return code == COMMAND_DONE ? session_run(call, words_of[i].run) : code;
}

const struct command command_reference = {
    .name = "reference",
    .arguments = "[freeze NAME | show RUN | withdraw RUN]",
    .summary = "runs that later shots are held against",
    .details =
	"Without arguments: those there are, the newest first.\n"
	"freeze: keeps copies of the complete shots of a time (without one: of\n"
	"the latest shift that has shots) under a name, at least 20, all of one\n"
	"line, side, recipe and tool; choose by --recipe, --tool and --side.\n"
	"Take a time in which parts were good and nothing was wrong: report and\n"
	"shot say what later shots do otherwise. Exit 1: too few shots.\n"
	"What these shots show against the newest reference of their kind, or\n"
	"their second half against their first, is remarked.\n"
	"show: its features by their definitions, and what was frozen with them:\n"
	"set-up, sensors and corrections, the material's properties.\n"
	"withdraw: nothing is held against it any more; it stays on file.",
    .options = OPTION_BIT(OPTION_LINE) | SPAN_OPTIONS | OPTION_BIT(OPTION_RECIPE) |
               OPTION_BIT(OPTION_TOOL) | OPTION_BIT(OPTION_SIDE) |
               OPTION_BIT(OPTION_NOTE),
    .argument_most = 2,
    .csv_table = "features",
    .run = run_reference,
};
