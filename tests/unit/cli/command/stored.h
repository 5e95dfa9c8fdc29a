/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The demo plant with stores in its set-up, for tests of what commands tell of them.
 */
#ifndef TESTS_UNIT_CLI_COMMAND_STORED_H
#define TESTS_UNIT_CLI_COMMAND_STORED_H

#include "daemon/ledger/ledger_read.h"
#include "daemon/ledger/ledger_read_delivery.h"
#include "tests/unit/cli/command/plant.h"

/* Adds the demo's set-up to `out`, with the materials where they are. */
static inline void
stored_copy_demo(FILE *out)
{
	char line[1024], folder[512];
	FILE *demo = fopen("conf/demo.ini", "r");

	plant_need(demo != NULL, "the demo's set-up");
	plant_need(getcwd(folder, sizeof folder) != NULL, "this folder");
	while (fgets(line, sizeof line, demo))
		if (strncmp(line, "materials = ", 12) == 0)
			fprintf(out, "materials = %s/conf/materials.ini\n", folder);
		else
			fputs(line, out);
	fclose(demo);
}

/* As plant_open; `stores` are the sections of the stores. */
static inline void
stored_open(struct plant *plant, const char *stores)
{
	char path[] = "/tmp/evensoak-set-up-XXXXXX";
	int file = mkstemp(path);
	FILE *out = file >= 0 ? fdopen(file, "w") : NULL;

	plant_need(out != NULL, "a file");
	stored_copy_demo(out);
	fprintf(out, "\n%s\n", stores);
	fclose(out);
	plant_open_under(plant, path);
	unlink(path);
}

/* The store has everything up to that change. */
static inline void
stored_deliver(
    struct plant *plant, const char *store, const char *stream, int64_t change)
{
	struct ledger_delivered delivered;

	plant_need(
	    ledger_delivered(plant->ledger, store, stream, &delivered, NULL) == 0,
	    "reading a cursor");
	delivered.change = change;
	delivered.at = plant_time(100);
	plant_need(
	    ledger_set_delivered(plant->ledger, store, stream, &delivered, NULL) == 0,
	    "moving a cursor");
}

static inline void
stored_deliver_all(struct plant *plant, const char *store)
{
	stored_deliver(plant, store, "shot", 1000000);
	stored_deliver(plant, store, "event", 1000000);
}

static inline struct ledger_lack
stored_lack(const struct plant *plant, const char *store)
{
	struct ledger_read *read = ledger_read_open(plant->ledger_path, NULL);
	struct ledger_lack lack;

	plant_need(read != NULL, "opening the ledger");
	plant_need(ledger_read_lack(read, store, &lack, NULL) == 0, "what it lacks");
	ledger_read_close(read);
	return lack;
}

#endif
