/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/scanner.h"

#include <assert.h>
#include <math.h>
#include <stdlib.h>

#include "conf/raw.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/decode.h"
#include "daemon/fieldbus/frozen.h"
#include "daemon/fieldbus/link.h"
#include "daemon/fieldbus/plan.h"

struct part {            /* the answer to one block of the group */
	uint16_t *words; /* in the scanner's */
	bool good;
};

struct scanner {
	const struct settings *settings;
	const struct device_settings *device;
	const struct channel_settings *channels; /* the group's */
	const struct read_place *places;         /* theirs */
	const struct read_block *blocks;         /* the group's */
	size_t block_count, first_block;
	size_t next; /* block that is asked for */
	enum scan_outcome outcome;
	struct frozen *frozen;
	struct part *parts;
	uint16_t *words; /* of all blocks, one after another */
	struct scan *scan;
};

/* Gives each block its part of one array; false when memory is short. */
static bool
make_parts(struct scanner *scanner)
{
	size_t words = 0;

	for (size_t i = 0; i < scanner->block_count; i++)
		words += scanner->blocks[i].count;
	scanner->parts = calloc(scanner->block_count + 1, sizeof *scanner->parts);
	scanner->words = calloc(words + 1, sizeof *scanner->words);
	if (!scanner->parts || !scanner->words)
		return false;
	words = 0;
	for (size_t i = 0; i < scanner->block_count; i++) {
		scanner->parts[i].words = scanner->words + words;
		words += scanner->blocks[i].count;
	}
	return true;
}

static void
stamp(struct scan *scan)
{
	clock_both(&scan->at, &scan->wall);
}

static void
fill_with_fault(struct scan *scan)
{
	for (uint32_t i = 0; i < scan->count; i++)
		scan->readings[i] = (struct reading){
		    .value = NAN,
		    .quality = QUALITY_COMM_FAULT,
		};
}

struct scanner *
scanner_new(const struct settings *settings, const struct read_plan *plan,
    uint32_t group_index, struct frozen *frozen)
{
	const struct device_settings *device = &settings->devices[plan->device];
	const struct group_settings *group = &device->groups[group_index];
	struct scanner *scanner = calloc(1, sizeof *scanner);

	if (!scanner)
		return NULL;
	scanner->settings = settings;
	scanner->device = device;
	scanner->channels = &settings->channels[device->first_channel + group->first];
	scanner->places = plan->places + group->first;
	scanner->first_block = plan->groups[group_index].first;
	scanner->block_count = plan->groups[group_index].count;
	scanner->blocks = plan->blocks + scanner->first_block;
	scanner->frozen = frozen;
	scanner->scan = calloc(1, scan_bytes(group->count));
	if (!scanner->scan || !make_parts(scanner)) {
		scanner_free(scanner);
		return NULL;
	}
	scanner->scan->device = plan->device;
	scanner->scan->first = group->first;
	scanner->scan->count = group->count;
	fill_with_fault(scanner->scan);
	return scanner;
}

void
scanner_free(struct scanner *scanner)
{
	if (!scanner)
		return;
	free(scanner->parts);
	free(scanner->words);
	free(scanner->scan);
	free(scanner);
}

void
scanner_begin(struct scanner *scanner)
{
	scanner->next = 0;
	scanner->outcome = SCAN_OUTCOME_FULL;
}

/* Of several exceptions the first is told. */
enum answer
scanner_next(struct scanner *scanner, struct link *link, struct error *error)
{
	struct part *part = &scanner->parts[scanner->next];
	struct error trouble;
	enum answer answer;

	assert(!scanner_is_done(scanner));
	if (scanner->next == 0)
		scanner->scan->sent = clock_mono();
	answer = link_read(link, scanner->device, &scanner->blocks[scanner->next],
	    part->words, &trouble);
	part->good = answer == ANSWER_GOOD;
	scanner->next++;
	if (part->good)
		return answer;
	if (answer_is_silence(answer) || scanner->outcome == SCAN_OUTCOME_FULL)
		*error = trouble;
	scanner->outcome =
	    answer_is_silence(answer) ? SCAN_OUTCOME_SILENT : SCAN_OUTCOME_PART;
	return answer;
}

bool
scanner_is_done(const struct scanner *scanner)
{
	return scanner->outcome == SCAN_OUTCOME_SILENT ||
	       scanner->next == scanner->block_count;
}

static void
decode_all(struct scanner *scanner)
{
	for (uint32_t i = 0; i < scanner->scan->count; i++) {
		const struct read_place *place = &scanner->places[i];
		const struct part *part =
		    &scanner->parts[place->block - scanner->first_block];
		struct reading *reading = &scanner->scan->readings[i];

		if (part->good)
			*reading = decode_reading(
			    &scanner->channels[i], part->words + place->offset);
		else
			*reading = (struct reading){
			    .value = NAN,
			    .quality = QUALITY_COMM_FAULT,
			};
	}
}

enum scan_outcome
scanner_end(struct scanner *scanner)
{
	if (scanner->outcome == SCAN_OUTCOME_SILENT) {
		scanner_fault(scanner);
		return SCAN_OUTCOME_SILENT;
	}
	stamp(scanner->scan);
	decode_all(scanner);
	raw_apply_faults(scanner->settings, scanner->scan);
	frozen_judge(scanner->frozen, scanner->scan);
	return scanner->outcome;
}

void
scanner_fault(struct scanner *scanner)
{
	stamp(scanner->scan);
	scanner->scan->sent = scanner->scan->at;
	fill_with_fault(scanner->scan);
	frozen_judge(scanner->frozen, scanner->scan);
}

const struct scan *
scanner_scan(const struct scanner *scanner)
{
	return scanner->scan;
}
