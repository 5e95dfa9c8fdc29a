/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/reference_known.h"

#include <stdio.h>
#include <string.h>

#include "cli/command/command.h"
#include "daemon/base/text.h"

struct looking {
	const char *name;        /* NULL: by kind */
	const struct kind *kind; /* NULL: by name */
	struct reference_known *known;
};

struct kind
kind_of(const struct ledger_shot *shot)
{
	struct kind kind = {0};

	text_copy(kind.line, sizeof kind.line, shot->line);
	text_copy(kind.side, sizeof kind.side, shot->side);
	text_copy(kind.recipe, sizeof kind.recipe, shot->recipe);
	text_copy(kind.tool, sizeof kind.tool, shot->tool);
	return kind;
}

bool
kind_same(const struct kind *a, const struct kind *b)
{
	return strcmp(a->line, b->line) == 0 && strcmp(a->side, b->side) == 0 &&
	       strcmp(a->recipe, b->recipe) == 0 && strcmp(a->tool, b->tool) == 0;
}

bool
kind_is_chosen(const struct call *call, const struct kind *kind)
{
	const char *recipe = call->option[OPTION_RECIPE];
	const char *tool = call->option[OPTION_TOOL];
	const char *side = call->option[OPTION_SIDE];

	return (!recipe || strcmp(recipe, kind->recipe) == 0) &&
	       (!tool || strcmp(tool, kind->tool) == 0) &&
	       (!side || strcmp(side, kind->side) == 0);
}

void
kind_words(const struct kind *kind, char words[static KIND_TEXT])
{
	snprintf(words, KIND_TEXT, "recipe %s, tool %s%s%s",
	    *kind->recipe ? kind->recipe : "unknown",
	    *kind->tool ? kind->tool : "unknown", *kind->side ? ", side " : "",
	    kind->side);
}

static const char *
or_empty(const char *text)
{
	return text ? text : "";
}

static void
keep(struct reference_known *known, const struct ledger_reference *reference)
{
	*known = (struct reference_known){.id = reference->id,
	    .from = reference->from,
	    .to = reference->to,
	    .frozen = reference->frozen,
	    .withdrawn = reference->withdrawn,
	    .shots = reference->shots,
	    .setup = reference->setup};
	text_copy(known->name, sizeof known->name, or_empty(reference->name));
	text_copy(known->note, sizeof known->note, or_empty(reference->note));
	text_copy(known->kind.line, sizeof known->kind.line, or_empty(reference->line));
	text_copy(known->kind.side, sizeof known->kind.side, or_empty(reference->side));
	text_copy(
	    known->kind.recipe, sizeof known->kind.recipe, or_empty(reference->recipe));
	text_copy(known->kind.tool, sizeof known->kind.tool, or_empty(reference->tool));
}

/* The newest comes first. */
static int
take_reference(void *arg, const struct ledger_reference *reference)
{
	struct looking *looking = arg;
	struct reference_known known;

	keep(&known, reference);
	if (looking->name
		? strcmp(looking->name, known.name) != 0
		: known.withdrawn.ns != 0 || !kind_same(looking->kind, &known.kind))
		return 0;
	*looking->known = known;
	return 1;
}

static int
look(struct looking looking, struct ledger_read *ledger, struct error *error)
{
	*looking.known = (struct reference_known){0};
	return ledger_read_references(ledger, take_reference, &looking, error);
}

int
reference_named(struct reference_known *known, struct ledger_read *ledger,
    const char *name, struct error *error)
{
	return look((struct looking){.name = name, .known = known}, ledger, error);
}

int
reference_newest(struct reference_known *known, struct ledger_read *ledger,
    const struct kind *kind, struct error *error)
{
	return look((struct looking){.kind = kind, .known = known}, ledger, error);
}
