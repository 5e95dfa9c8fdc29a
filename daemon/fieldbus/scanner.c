/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/scanner.h"

#include <math.h>
#include <stdlib.h>

#include "daemon/base/error.h"
#include "daemon/base/scan.h"
#include "daemon/fieldbus/decode.h"
#include "daemon/fieldbus/link.h"
#include "daemon/fieldbus/plan.h"

struct part {            /* the answer to one block of the plan */
	uint16_t *words; /* in the scanner's */
	bool good;
};

struct scanner {
	const struct device_settings *device;
	const struct channel_settings *channels; /* the device's */
	struct read_plan *plan;
	struct part *parts;
	uint16_t *words; /* of all blocks, one after another */
	struct scan *scan;
};

/* Gives each block its part of one array; false when memory is short. */
static bool
make_parts(struct scanner *scanner)
{
	const struct read_plan *plan = scanner->plan;
	size_t words = 0;

	for (size_t i = 0; i < plan->block_count; i++)
		words += plan->blocks[i].count;
	scanner->parts = calloc(plan->block_count + 1, sizeof *scanner->parts);
	scanner->words = calloc(words + 1, sizeof *scanner->words);
	if (!scanner->parts || !scanner->words)
		return false;
	words = 0;
	for (size_t i = 0; i < plan->block_count; i++) {
		scanner->parts[i].words = scanner->words + words;
		words += plan->blocks[i].count;
	}
	return true;
}

struct scanner *
scanner_new(const struct settings *settings, uint32_t device)
{
	struct scanner *scanner = calloc(1, sizeof *scanner);

	if (!scanner)
		return NULL;
	scanner->device = &settings->devices[device];
	scanner->channels = &settings->channels[scanner->device->first_channel];
	scanner->plan = plan_new(settings, device);
	scanner->scan = calloc(1, scan_bytes(scanner->device->channel_count));
	if (!scanner->plan || !scanner->scan || !make_parts(scanner)) {
		scanner_free(scanner);
		return NULL;
	}
	scanner->scan->device = device;
	scanner->scan->count = scanner->device->channel_count;
	scanner_fault(scanner);
	return scanner;
}

void
scanner_free(struct scanner *scanner)
{
	if (!scanner)
		return;
	plan_free(scanner->plan);
	free(scanner->parts);
	free(scanner->words);
	free(scanner->scan);
	free(scanner);
}

static void
stamp(struct scan *scan)
{
	clock_both(&scan->at, &scan->wall);
}

void
scanner_fault(struct scanner *scanner)
{
	stamp(scanner->scan);
	scanner->scan->sent = scanner->scan->at;
	for (uint32_t i = 0; i < scanner->scan->count; i++)
		scanner->scan->readings[i] = (struct reading){
		    .value = NAN,
		    .quality = QUALITY_COMM_FAULT,
		};
}

/* Whether the device said no, so that its other blocks may still be read. */
static bool
is_refusal(enum answer answer)
{
	return answer == ANSWER_ILLEGAL || answer == ANSWER_BUSY ||
	       answer == ANSWER_FAULT;
}

/* Of several exceptions the first is told. */
static enum scan_outcome
read_blocks(struct scanner *scanner, struct link *link, const atomic_bool *stop,
    struct error *error)
{
	enum scan_outcome outcome = SCAN_OUTCOME_FULL;

	scanner->scan->sent = clock_mono();
	for (size_t i = 0; i < scanner->plan->block_count; i++) {
		struct part *part = &scanner->parts[i];
		struct error trouble;
		enum answer answer;

		if (atomic_load_explicit(stop, memory_order_relaxed)) {
			error_set(error, ERROR_BUSY, "stopped");
			return SCAN_OUTCOME_SILENT;
		}
		answer = link_read(link, scanner->device, &scanner->plan->blocks[i],
		    part->words, &trouble);
		part->good = answer == ANSWER_GOOD;
		if (part->good)
			continue;
		if (!is_refusal(answer) || outcome == SCAN_OUTCOME_FULL)
			*error = trouble;
		if (!is_refusal(answer))
			return SCAN_OUTCOME_SILENT;
		outcome = SCAN_OUTCOME_PART;
	}
	return outcome;
}

static void
decode_all(struct scanner *scanner)
{
	for (uint32_t i = 0; i < scanner->scan->count; i++) {
		const struct read_place *place = &scanner->plan->places[i];
		const struct part *part = &scanner->parts[place->block];
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
scanner_read(struct scanner *scanner, struct link *link, const atomic_bool *stop,
    struct error *error)
{
	enum scan_outcome outcome = read_blocks(scanner, link, stop, error);

	if (outcome == SCAN_OUTCOME_SILENT) {
		scanner_fault(scanner);
		return outcome;
	}
	stamp(scanner->scan);
	decode_all(scanner);
	return outcome;
}

const struct scan *
scanner_scan(const struct scanner *scanner)
{
	return scanner->scan;
}
