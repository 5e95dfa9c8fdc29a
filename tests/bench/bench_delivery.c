/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * How fast a backlog drains into a real InfluxDB, held against curl posting the same
 * lines, gzipped beforehand, over one connection.  The lines are made while the
 * server works, on a second core: with both cores busy the ratio falls.
 */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <zlib.h>

#include "daemon/publish/delivery.h"
#include "tests/bench/figure.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/real_influx.h"

enum { SHOTS = 2000, BATCH_LINES = 5000, ROUNDS = 4 };

static struct filled_ledger filled;
static struct real_influx influx;

/* Under a name of its own, so that nothing has been delivered to it. */
static double
time_delivery(int database)
{
	struct store_settings *store = &filled.settings->stores[0];
	snprintf(store->name, sizeof(store->name), "ours%d", database);
	snprintf(store->database, sizeof(store->database), "ours%d", database);
	enum delivery_state state;
	double retry_after_s, start_s = figure_now_s();
	struct delivery *delivery =
	    delivery_open(filled.settings, 0, filled.path, NULL, NULL, &filled.error);

	filled_need(&filled, delivery != NULL, "open the delivery");
	do
		state = delivery_step(delivery, &retry_after_s, &filled.error);
	while (state == DELIVERY_MOVING);
	filled_need(&filled, state == DELIVERY_DONE, "deliver");
	delivery_close(delivery);
	return figure_now_s() - start_s;
}

/* Writes the lines as gzip files and, for each database, what curl is to do with
 * them.  Returns how many lines there are. */
static size_t
prepare_curl(const struct text *lines)
{
	FILE *tasks[ROUNDS];
	char name[400];
	size_t count = 0;
	gzFile file = NULL;

	for (int i = 0; i < ROUNDS; i++) {
		snprintf(name, sizeof(name), "%s/curl%d", filled.folder, i);
		tasks[i] = fopen(name, "w");
		filled_need(&filled, tasks[i] != NULL, "write for curl");
	}
	for (const char *line = lines->bytes; *line != '\0'; count++) {
		if (count % BATCH_LINES == 0) {
			if (file != NULL)
				gzclose(file);
			snprintf(name, sizeof(name), "%s/%zu.gz", filled.folder, count);
			file = gzopen(name, "wb1");
			for (int i = 0; i < ROUNDS; i++)
				fprintf(tasks[i],
				    "%sheader=\"Content-Encoding: gzip\"\n"
				    "data-binary=\"@%s\"\n"
				    "url=http://127.0.0.1:%d/write?db=curl%d\n",
				    count > 0 ? "next\n" : "", name, influx.port, i);
		}
		const char *end = strchr(line, '\n') + 1;
		gzwrite(file, line, (unsigned)(end - line));
		line = end;
	}
	gzclose(file);
	for (int i = 0; i < ROUNDS; i++)
		fclose(tasks[i]);
	return count;
}

static double
time_curl(int database)
{
	char command[400];
	double start_s = figure_now_s();

	snprintf(
	    command, sizeof(command), "curl -sfK '%s/curl%d'", filled.folder, database);
	filled_need(&filled, system(command) == 0, "curl");
	return figure_now_s() - start_s;
}

int
main(void)
{
	if (!influx_there() || system("curl --version > /dev/null") != 0) {
		figure_skipped(
		    "delivery_drain_ratio", "there is no influxd or no curl");
		return 0;
	}
	influx_prepare(&influx);
	influx_start(&influx);
	for (int i = 0; i < 2 * ROUNDS; i++) {
		char query[64];
		snprintf(query, sizeof(query), "CREATE+DATABASE+%s%d",
		    i % 2 == 0 ? "curl" : "ours", i / 2);
		free(influx_query(&influx, query));
	}
	filled_open(&filled, influx.port);
	filled.settings->stores[0].batch_lines = BATCH_LINES;
	filled_add_shots(&filled, SHOTS);
	struct text lines = filled_all_lines(&filled);
	size_t count = prepare_curl(&lines);

	/* In turns, as the server slows down while it fills. */
	double curl_s = 0, ours_s = 0;
	for (int i = 0; i < 2 * ROUNDS; i++) {
		if (i % 4 == 0 || i % 4 == 3)
			curl_s += time_curl(i / 2);
		else
			ours_s += time_delivery(i / 2);
	}
	figure_at_least("delivery_drain_ratio", curl_s / ours_s, "", 0.9,
	    "curl posting the same lines to the same InfluxDB, in turns, %d times",
	    ROUNDS);
	figure_only("delivery_drain_lines", (double)count * ROUNDS / ours_s, "/s",
	    "%.1f MB in batches of %d", (double)lines.length * 1e-6, BATCH_LINES);

	text_release(&lines);
	filled_close(&filled);
	influx_close(&influx);
	return 0;
}
