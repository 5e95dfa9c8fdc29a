/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/reference_freeze.h"

#include <inttypes.h>
#include <stdlib.h>
#include <string.h>

#include "cli/command/reference_check.h"
#include "cli/command/reference_setups.h"
#include "cli/wording/shown.h"
#include "cli/command/span.h"
#include "cli/findings/findings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum { KINDS = 16, LABELS = 16 };

/* Labels of the shots, each once. */
struct labels {
	char list[LABELS][2 * LEDGER_NAME];
	size_t count;
	bool more; /* than are kept */
};

struct kind_count {
	struct kind kind;
	int64_t shots;
};

struct freezing {
	const struct call *call;
	struct ledger_reference_shot *shots;
	size_t count, room;
	bool failed;
	struct kind_count kinds[KINDS];
	size_t kind_count;
	bool more_kinds;
	struct labels recipes, tools; /* of all complete shots, chosen or not */
	int64_t looked_at;            /* of any outcome */
	struct labels lots, properties;
	struct wall from, to;
	int64_t setup;
	struct compare_setups setups;
};

/* --- the shots ------------------------------------------------------------------------ */

static void
add_label(struct labels *labels, const char *label)
{
	if (!*label)
		return;
	for (size_t i = 0; i < labels->count; i++)
		if (strcmp(labels->list[i], label) == 0)
			return;
	if (labels->count == LABELS)
		labels->more = true;
	else
		text_copy(labels->list[labels->count++], 2 * LEDGER_NAME, label);
}

static void
count_kind(struct freezing *freezing, const struct kind *kind)
{
	for (size_t i = 0; i < freezing->kind_count; i++)
		if (kind_same(&freezing->kinds[i].kind, kind)) {
			freezing->kinds[i].shots++;
			return;
		}
	if (freezing->kind_count == KINDS)
		freezing->more_kinds = true;
	else
		freezing->kinds[freezing->kind_count++] = (struct kind_count){*kind, 1};
}

static bool
add_shot(struct freezing *freezing, const struct ledger_shot *shot)
{
	if (freezing->count == freezing->room) {
		size_t room = freezing->room ? freezing->room * 2 : 64;
		struct ledger_reference_shot *shots =
		    reallocarray(freezing->shots, room, sizeof *shots);
		if (!shots)
			return false;
		freezing->shots = shots;
		freezing->room = room;
	}
	struct ledger_reference_shot *kept = &freezing->shots[freezing->count++];
	kept->shot_no = shot->shot_no;
	kept->filed_at = shot->filed_at;
	text_copy(kept->lot, sizeof kept->lot, shot->lot);
	memcpy(kept->value, shot->value, sizeof kept->value);
	return true;
}

static int
take_shot(void *arg, const struct ledger_shot *shot)
{
	struct freezing *freezing = arg;
	const struct kind kind = kind_of(shot);

	freezing->looked_at++;
	if (shot->outcome != SHOT_COMPLETE)
		return 0;
	add_label(&freezing->recipes, *kind.recipe ? kind.recipe : "unknown");
	add_label(&freezing->tools, *kind.tool ? kind.tool : "unknown");
	if (!kind_is_chosen(freezing->call, &kind))
		return 0;
	count_kind(freezing, &kind);
	add_label(&freezing->lots, shot->lot);
	add_label(&freezing->properties, shot->properties);
	if (freezing->count == 0)
		freezing->from = shot->filed_at;
	freezing->to = shot->filed_at;
	freezing->setup = shot->setup;
	compare_setups_add(&freezing->setups, shot->setup);
	freezing->failed = !add_shot(freezing, shot);
	return freezing->failed;
}

/* --- what cannot be frozen ---------------------------------------------------------------- */

static enum command_exit
refuse_kinds(const struct freezing *freezing)
{
	struct text told;
	char words[KIND_TEXT];

	text_init(&told, KINDS * KIND_TEXT);
	for (size_t i = 0; i < freezing->kind_count; i++) {
		kind_words(&freezing->kinds[i].kind, words);
		text_printf(&told, "%s%s (%" PRId64 " shots)", i ? "; " : "", words,
		    freezing->kinds[i].shots);
	}
	enum command_exit code = command_usage(freezing->call,
	    "the shots are of more than one kind: %s%s: choose by --recipe, --tool%s",
	    told.bytes ? told.bytes : "", freezing->more_kinds ? "; and more" : "",
	    *freezing->kinds[0].kind.side ? ", --side" : "");
	text_release(&told);
	return code;
}

static void
labels_words(const struct labels *labels, struct text *words)
{
	text_init(words, LABELS * 2 * LEDGER_NAME + 16);
	for (size_t i = 0; i < labels->count; i++)
		text_printf(words, "%s%s", i ? ", " : "", labels->list[i]);
	if (labels->more)
		text_puts(words, " and more");
}

static bool
has_label(const struct labels *labels, const char *label)
{
	for (size_t i = 0; i < labels->count; i++)
		if (strcmp(labels->list[i], label) == 0)
			return true;
	return labels->more;
}

/* That what was chosen by is not among the shots, and what is. */
static bool
tell_not_there(const struct freezing *freezing, const struct span *span,
    enum option_id option, const struct labels *labels)
{
	const char *wanted = freezing->call->option[option];
	struct text words;

	if (!wanted || labels->count == 0 || has_label(labels, wanted))
		return false;
	labels_words(labels, &words);
	command_tell(freezing->call,
	    "%s: no complete shots of %s '%s': there are of %s; nothing is frozen",
	    span->title, option_table[option].name, wanted,
	    words.bytes ? words.bytes : "none");
	text_release(&words);
	return true;
}

static enum command_exit
check(const struct freezing *freezing, const struct span *span)
{
	struct error error;

	if (freezing->failed) {
		error_set(&error, ERROR_MEMORY, "out of memory: say a shorter time");
		return command_cannot(freezing->call, &error);
	}
	if (freezing->kind_count > 1)
		return refuse_kinds(freezing);
	if (freezing->count >= PROFILE_SHOTS_MIN)
		return COMMAND_DONE;
	if (tell_not_there(freezing, span, OPTION_RECIPE, &freezing->recipes) ||
	    tell_not_there(freezing, span, OPTION_TOOL, &freezing->tools))
		return COMMAND_NO;
	fprintf(freezing->call->err,
	    "evensoak: %s: %zu complete shots of what was asked for, %" PRId64
	    " shots in all: a reference run needs %d; nothing is frozen\n",
	    span->title, freezing->count, freezing->looked_at, PROFILE_SHOTS_MIN);
	return COMMAND_NO;
}

/* --- freezing, and telling it ---------------------------------------------------------------- */

static void
put_labels(
    struct page *page, const char *key, const char *title, const struct labels *labels)
{
	struct text words;

	labels_words(labels, &words);
	page_field(page, key, title, shown_name(words.bytes ? words.bytes : ""));
	text_release(&words);
}

static void
calibration_words(const struct session *session, int line, struct wall at,
    char words[static CALIBRATE_WORDS])
{
	struct error error;
	struct calibrate_held *held =
	    calloc(session->settings->channel_count + 1, sizeof *held);

	words[0] = '\0';
	if (held && calibrate_state_read(held, session->ledger, session->settings, line,
			at, &error) == 0)
		calibrate_words(session->settings, line, held, at, words);
	free(held);
}

/* What the shots say of themselves, before they are a reference; "" also where that cannot
 * be told. */
static void
remark(const struct freezing *freezing, const struct session *session, int line,
    char words[static REFERENCE_REMARK])
{
	struct found_series series = {.kind = freezing->kinds[0].kind};
	const struct labels *properties = &freezing->properties;
	struct error error;
	bool done = true;

	for (size_t i = 0; done && i < freezing->count; i++) {
		const struct ledger_reference_shot *shot = &freezing->shots[i];
		struct findings_shot kept = {
		    .shot_no = shot->shot_no, .at = shot->filed_at, .usual = true};
		memcpy(kept.value, shot->value, sizeof kept.value);
		done = found_series_add(&series, &kept, shot->lot,
		    properties->count == 1 ? properties->list[0] : "");
	}
	words[0] = '\0';
	if (!done || reference_check(session, line, &series, words, &error) != 0)
		snprintf(words, REFERENCE_REMARK,
		    "whether these shots are alike could not be told: out of memory");
	found_series_release(&series);
}

/* What it now replaces, and how that is taken back. */
static void
put_turn(struct page *page, const char *name, const struct reference_known *older)
{
	page_field(page, "replaces", older->id != 0 ? "replaces" : NULL,
	    older->id != 0 ? cell_words(older->name) : cell_absent(NULL));
	page_note(page, "turn", TONE_PLAIN,
	    "report and shot hold shots of this recipe and tool against it from now "
	    "on, until a newer one is frozen; the copies are never changed. It now "
	    "replaces %s; 'evensoak reference withdraw %s' takes it back.",
	    older->id != 0 ? older->name : "none", name);
}

static enum command_exit
tell(const struct freezing *freezing, const struct session *session, int line,
    const struct ledger_reference *reference, const char *remark,
    const struct reference_known *older)
{
	const struct call *call = freezing->call;
	struct page *page = command_page(call);
	char words[CALIBRATE_WORDS], measured[REFERENCE_SETUPS];

	if (!page)
		return COMMAND_CANNOT;
	calibration_words(session, line, freezing->to, words);
	page_field(page, "name", "frozen", cell_words(reference->name));
	page_field(page, "line", "line", cell_words(reference->line));
	page_field(page, "side", *reference->side ? "side" : NULL,
	    shown_name(reference->side));
	page_field(page, "recipe", "recipe", shown_name(reference->recipe));
	page_field(page, "tool", "tool", shown_name(reference->tool));
	page_field(page, "shots", "shots", cell_count(reference->shots));
	page_field(page, "from", "from", cell_time(reference->from));
	page_field(page, "to", "to", cell_time(reference->to));
	page_field(page, "setup", "set-up", cell_count(reference->setup));
	put_labels(page, "properties", "properties", &freezing->properties);
	put_labels(page, "lots", "lots", &freezing->lots);
	page_field(page, "calibrated", "calibrated", shown_name(words));
	page_field(page, "note", "note", shown_name(reference->note));
	if (*remark)
		page_note(page, "remark", TONE_BAD, "%s", remark);
	reference_setups_check(
	    session, &freezing->kinds[0].kind, &freezing->setups, measured);
	if (*measured)
		page_note(page, "measured", TONE_BAD, "%s", measured);
	put_turn(page, reference->name, older);
	return command_end_page(call, page, COMMAND_DONE);
}

static enum command_exit
freeze(const struct freezing *freezing, const struct session *session, int line)
{
	const struct call *call = freezing->call;
	const struct kind *kind = &freezing->kinds[0].kind;
	const char *note = call->option[OPTION_NOTE];
	const struct ledger_reference reference = {
	    .name = call->argument[1],
	    .line = session->settings->lines[line].name,
	    .side = kind->side,
	    .recipe = kind->recipe,
	    .tool = kind->tool,
	    .from = freezing->from,
	    .to = freezing->to,
	    .frozen = clock_wall(),
	    .shots = (int64_t)freezing->count,
	    .setup = freezing->setup,
	    .note = note ? note : "",
	};
	struct error error;
	char words[REFERENCE_REMARK];
	/* before it is the newest itself */
	struct reference_known older;
	if (reference_newest(&older, session->ledger, kind, &error) != 0)
		return command_cannot(call, &error);
	remark(freezing, session, line, words);
	struct ledger *ledger = ledger_open(session->path, NULL, &error);
	int64_t id;

	if (!ledger)
		return command_cannot(call, &error);
	int code = ledger_put_reference(
	    ledger, &reference, freezing->shots, freezing->count, &id, &error);
	ledger_close(ledger);
	if (code != 0)
		return code == ERROR_INVALID ? command_usage(call, "%s", error.text)
		                             : command_cannot(call, &error);
	return tell(freezing, session, line, &reference, words, &older);
}

static enum command_exit
read_and_freeze(struct freezing *freezing, const struct session *session)
{
	const struct call *call = freezing->call;
	struct span span;
	struct error error;
	int line;
	enum command_exit code = session_one_line(session, call, &line);

	if (code != COMMAND_DONE)
		return code;
	const char *name = session->settings->lines[line].name;
	code = reference_check_name(call, session);
	if (code == COMMAND_DONE)
		code = reference_check_side(call, &session->settings->lines[line]);
	if (code == COMMAND_DONE)
		code = span_read(&span, session, call, name);
	if (code == COMMAND_DONE && !span.given)
		code = span_latest(&span, session, call, name);
	if (code != COMMAND_DONE)
		return code;
	const struct ledger_filter filter = {
	    .line = name, .from = span.from, .to = span.to, .by_time = true};
	if (ledger_read_shots(
		session->ledger, &filter, false, take_shot, freezing, &error) != 0)
		return command_cannot(call, &error);
	code = check(freezing, &span);
	return code == COMMAND_DONE ? freeze(freezing, session, line) : code;
}

enum command_exit
reference_freeze(const struct call *call, const struct session *session)
{
	struct freezing *freezing = calloc(1, sizeof *freezing);
	struct error error;

	if (!freezing) {
		error_set(&error, ERROR_MEMORY, "out of memory");
		return command_cannot(call, &error);
	}
	freezing->call = call;
	enum command_exit code = read_and_freeze(freezing, session);
	free(freezing->shots);
	free(freezing);
	return code;
}
