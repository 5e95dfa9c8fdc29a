/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Which registers a device has, of a block that nobody has a map of: the block is read in
 * parts, a part that is refused in halves, down to the single registers that are not there.
 *
 * Bounded in its requests; after no answer at all it gives up soon.  One object belongs to
 * one thread.
 */
#ifndef CLI_COMMAND_REGISTERS_SURVEY_H
#define CLI_COMMAND_REGISTERS_SURVEY_H

#include "conf/settings.h"
#include "daemon/fieldbus/answer.h"
#include "daemon/fieldbus/plan.h"

#include <stdbool.h>

struct error;

/* How a block is read: link_read, or a test in its place. */
struct survey_port {
	enum answer (*read)(void *arg, const struct read_block *block, uint16_t *words,
	    struct error *error);
	void *arg;
};

enum survey_state {
	SURVEY_OPEN, /* not asked for: the requests were used up, or it stopped before */
	SURVEY_THERE,
	SURVEY_REFUSED, /* the device says that it has none */
	SURVEY_FAILED,  /* the device has trouble: of the register that says nothing */
	SURVEY_SILENT,  /* no answer, or none that can be used */
	SURVEY_BARRED,  /* the set-up calls it a hole: never asked for */
};

struct survey_register {
	enum survey_state state;
	uint16_t word;           /* as it was read last */
	uint16_t least, most;    /* of all readings, unsigned ... */
	int16_t lowest, highest; /* ... and signed */
	uint32_t changes;        /* readings that were not as the one before */
};

enum { SURVEY_WHY = 200 };
struct survey {
	enum register_table table;
	uint16_t first;
	uint32_t count;
	struct survey_register *registers; /* `count` of them, from `first` on */
	uint32_t largest;                  /* block that was answered */
	uint32_t part; /* asked for at once; becomes less where the device shows
	                          that it is too much */
	bool parted;   /* a block was refused whose halves were both answered; `part`
	                          is then as many as it gives, found by halving again */
	struct read_block refused_whole; /* the first such block */
	struct read_block *blocks;       /* those that were answered, ascending */
	size_t block_count;
	uint32_t requests, requests_most;
	uint32_t silences;
	uint32_t faults;   /* exceptions that name no register, since another answer */
	uint32_t readings; /* of what is there: 1 after survey_run */
	bool answered;     /* the device answered something, be it an exception */
	char why[SURVEY_WHY]; /* of the last that was refused or not answered; "" */
};

/* Registers `first` to `first` + `count` - 1 (not past 65535), `part` at a time; room for
 * them, or false when memory is short.  Release in either case. */
bool survey_init(struct survey *survey, enum register_table table, uint16_t first,
    uint32_t count, uint32_t part);
void survey_release(struct survey *survey);

/* Never asks for these registers. */
void survey_bar(struct survey *survey, const struct hole *hole);

/*
 * Asks.  Returns how it ended, `error` says why:
 *   ANSWER_GOOD     it went through all of it, whatever is there, or used up its requests;
 *   ANSWER_ILLEGAL  the device does not know the function that reads this table;
 *   ANSWER_BUSY     it says so, several times over;
 *   ANSWER_FAULT    it says that something is wrong with it, one request after another;
 *   others          the device stopped answering, or never did.
 */
enum answer survey_run(
    struct survey *survey, const struct survey_port *port, struct error *error);

/* Reads what is there once more, block by block, and counts what changed.  As above. */
enum answer survey_again(
    struct survey *survey, const struct survey_port *port, struct error *error);

/* From register `at` of the survey (0 the first) on so many are in the same state. */
uint32_t survey_same(const struct survey *survey, uint32_t at);

#endif
