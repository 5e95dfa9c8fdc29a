/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/registers_survey.h"

#include <assert.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

enum {
	REQUESTS_MOST = 500,
	SILENCES_MOST = 4, /* each costs a time-out */
	BUSY_MOST = 4,   /* tries of a request, while the device says that it is busy */
	FAULTS_MOST = 5, /* one after another: then it is the device, no register */
};

bool
survey_init(struct survey *survey, enum register_table table, uint16_t first,
    uint32_t count, uint32_t part)
{
	assert(count > 0 && first + count <= 65536 && part > 0);
	*survey = (struct survey){
	    .table = table,
	    .first = first,
	    .count = count,
	    .part = part,
	    .requests_most = REQUESTS_MOST,
	    .registers = calloc(count, sizeof(struct survey_register)),
	    .blocks = calloc(count, sizeof(struct read_block)),
	};
	return survey->registers && survey->blocks;
}

void
survey_release(struct survey *survey)
{
	free(survey->registers);
	free(survey->blocks);
	*survey = (struct survey){0};
}

void
survey_bar(struct survey *survey, const struct hole *hole)
{
	for (uint32_t i = 0; hole->table == survey->table && i < survey->count; i++)
		if (survey->first + i >= hole->first && survey->first + i <= hole->last)
			survey->registers[i].state = SURVEY_BARRED;
}

uint32_t
survey_same(const struct survey *survey, uint32_t at)
{
	uint32_t end = at + 1;

	while (end < survey->count &&
	       survey->registers[end].state == survey->registers[at].state)
		end++;
	return end - at;
}

/* --- one request ---------------------------------------------------------------------- */

static struct read_block
block_of(const struct survey *survey, uint32_t at, uint32_t count)
{
	return (struct read_block){.table = survey->table,
	    .first = (uint16_t)(survey->first + at),
	    .count = (uint16_t)count};
}

static enum answer
request(struct survey *survey, const struct survey_port *port,
    const struct read_block *block, uint16_t *words, struct error *error)
{
	enum answer answer = ANSWER_BUSY;

	for (int i = 0; i < BUSY_MOST && answer == ANSWER_BUSY; i++) {
		survey->requests++;
		answer = port->read(port->arg, block, words, error);
	}
	if (answer != ANSWER_GOOD)
		text_copy(survey->why, sizeof survey->why, error->text);
	return answer;
}

static void
take_word(struct survey_register *one, uint16_t word, bool again)
{
	int16_t number = (int16_t)word;

	one->changes += again && word != one->word;
	one->word = word;
	one->least = again && one->least < word ? one->least : word;
	one->most = again && one->most > word ? one->most : word;
	one->lowest = again && one->lowest < number ? one->lowest : number;
	one->highest = again && one->highest > number ? one->highest : number;
}

static void
take_words(struct survey *survey, const struct read_block *block, const uint16_t *words,
    bool again)
{
	uint32_t at = (uint32_t)(block->first - survey->first);

	for (uint32_t i = 0; i < block->count; i++) {
		survey->registers[at + i].state = SURVEY_THERE;
		take_word(&survey->registers[at + i], words[i], again);
	}
}

/* --- halving -------------------------------------------------------------------------- */

struct halving {
	struct survey *survey;
	const struct survey_port *port;
	struct error *error;
	enum answer end; /* ANSWER_GOOD while it goes on */
};

static void
set_states(struct survey *survey, uint32_t at, uint32_t count, enum survey_state state)
{
	for (uint32_t i = 0; i < count; i++)
		survey->registers[at + i].state = state;
}

/* An exception that says the function, not the registers, is not there: "exception 1". */
static bool
is_function(const struct error *error)
{
	return strstr(error->text, "exception 1,") != NULL;
}

/* Whether the answer is an end of it all. */
static bool
ends(struct halving *halving, enum answer answer)
{
	struct survey *survey = halving->survey;

	switch (answer) {
	case ANSWER_GOOD:
		return false;
	case ANSWER_FAULT: /* says nothing of the address, but may be of one register */
		survey->answered = true;
		if (++survey->faults < FAULTS_MOST)
			return false;
		halving->end = answer;
		return true;
	case ANSWER_ILLEGAL:
		survey->answered = true;
		survey->faults = 0;
		if (!is_function(halving->error))
			return false;
		halving->end = answer;
		return true;
	case ANSWER_NONE:
	case ANSWER_WRONG:
	case ANSWER_LOST:
		survey->silences++;
		if (survey->answered && survey->silences < SILENCES_MOST)
			return false;
		halving->end = answer;
		return true;
	case ANSWER_BUSY:
	case ANSWER_GATEWAY:
	case ANSWER_COUNT:
		halving->end = answer;
		return true;
	}
	return true;
}

/* How many registers the device gives at once, of `count` that it has: it gave `most` and
 * refused them all. */
static uint32_t
find_most(struct halving *halving, uint32_t at, uint32_t most, uint32_t count)
{
	struct survey *survey = halving->survey;
	uint16_t words[PLAN_BITS_MAX];
	uint32_t refused = count;

	while (refused - most > 1 && survey->requests < survey->requests_most) {
		uint32_t middle = most + (refused - most) / 2;
		struct read_block block = block_of(survey, at, middle);
		enum answer answer =
		    request(survey, halving->port, &block, words, halving->error);
		if (answer == ANSWER_GOOD)
			most = middle;
		else if (answer == ANSWER_ILLEGAL)
			refused = middle;
		else
			break;
	}
	return most;
}

static bool ask(struct halving *halving, uint32_t at, uint32_t count);

/* A part that was refused: its halves. */
static void
ask_halves(struct halving *halving, uint32_t at, uint32_t count)
{
	struct survey *survey = halving->survey;
	uint32_t half = (count + 1) / 2;
	bool left = ask(halving, at, half);
	bool right = ask(halving, at + half, count - half);

	if (!left || !right)
		return;
	/* too many at once, or a border that no request may cross */
	if (!survey->parted)
		survey->refused_whole = block_of(survey, at, count);
	if (!survey->parted && survey->largest < count)
		survey->largest = find_most(halving, at, survey->largest, count);
	survey->parted = true;
	survey->part = survey->largest;
}

static enum survey_state
state_after(enum answer answer)
{
	switch (answer) {
	case ANSWER_GOOD:
		return SURVEY_THERE;
	case ANSWER_ILLEGAL:
		return SURVEY_REFUSED;
	case ANSWER_BUSY:
		return SURVEY_OPEN;
	case ANSWER_FAULT:
		return SURVEY_FAILED;
	case ANSWER_GATEWAY:
	case ANSWER_NONE:
	case ANSWER_WRONG:
	case ANSWER_LOST:
	case ANSWER_COUNT:
		break;
	}
	return SURVEY_SILENT;
}

/* Whether all of it was answered by one request. */
static bool
ask(struct halving *halving, uint32_t at, uint32_t count)
{
	struct survey *survey = halving->survey;
	struct read_block block = block_of(survey, at, count);
	uint16_t words[PLAN_BITS_MAX];

	if (halving->end != ANSWER_GOOD || survey->requests >= survey->requests_most)
		return false;
	enum answer answer =
	    request(survey, halving->port, &block, words, halving->error);
	if (answer == ANSWER_GOOD) {
		take_words(survey, &block, words, false);
		survey->largest = count > survey->largest ? count : survey->largest;
		survey->blocks[survey->block_count++] = block;
		survey->answered = true;
		survey->faults = 0;
	} else if (ends(halving, answer) || count == 1) {
		set_states(survey, at, count, state_after(answer));
	} else {
		ask_halves(halving, at, count);
	}
	return answer == ANSWER_GOOD;
}

enum answer
survey_run(struct survey *survey, const struct survey_port *port, struct error *error)
{
	struct halving halving = {survey, port, error, ANSWER_GOOD};
	uint32_t at = 0;

	while (at < survey->count && halving.end == ANSWER_GOOD) {
		uint32_t same = survey_same(survey, at);
		uint32_t count = same < survey->part ? same : survey->part;
		if (survey->registers[at].state == SURVEY_BARRED)
			count = same;
		else
			ask(&halving, at, count);
		at += count;
	}
	survey->readings = 1;
	if (halving.end == ANSWER_GOOD && survey->block_count == 0 &&
	    survey->faults > 0)
		return ANSWER_FAULT;
	return halving.end;
}

enum answer
survey_again(struct survey *survey, const struct survey_port *port, struct error *error)
{
	uint16_t words[PLAN_BITS_MAX];

	for (size_t i = 0; i < survey->block_count; i++) {
		const struct read_block *block = &survey->blocks[i];
		enum answer answer = request(survey, port, block, words, error);
		if (answer != ANSWER_GOOD)
			return answer;
		take_words(survey, block, words, true);
	}
	survey->readings++;
	return ANSWER_GOOD;
}
