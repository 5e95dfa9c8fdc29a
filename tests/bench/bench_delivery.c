/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What 30 days without a store leave behind (14,400 shots of one line with 90 channels),
 * drained into a real InfluxDB and a real VictoriaMetrics, held against curl posting the
 * same lines, gzipped beforehand, over one connection.  The lines are made while the
 * server works, on a second core: with both cores busy the ratio falls.  And the memory
 * that it takes: as much in the last quarter as in the first.
 */
#include <stdbool.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>

#include "daemon/publish/batch.h"
#include "daemon/publish/delivery.h"
#include "daemon/publish/http.h"
#include "daemon/publish/loader.h"
#include "daemon/publish/settling.h"
#include "tests/bench/figure.h"
#include "tests/unit/daemon/publish/filled_ledger.h"
#include "tests/unit/daemon/publish/real_victoria.h"

enum { SHOTS = 14400, CHANNELS = 90, BATCH_LINES = 5000, ROUNDS = 2, QUARTERS = 4 };

static struct filled_ledger filled;
static struct real_influx influx;
static struct real_victoria victoria;
static double peak_mb[QUARTERS];

/* --- the ledger ---------------------------------------------------------------------- */

static void
fill(void)
{
	filled_open(&filled, 1);
	filled.settings->stores[0].batch_lines = BATCH_LINES;
	filled_need(&filled, ledger_set_hasty(filled.ledger, true, &filled.error) == 0,
	    "go fast");
	for (int i = 0; i < SHOTS; i++) {
		struct shot *shot = filled_shot(&filled);
		if (shot->channel_count > CHANNELS)
			shot->channel_count = CHANNELS;
		filled_need(&filled,
		    ledger_put_shot(
			filled.ledger, filled.settings, shot, &filled.error) == 0,
		    "write a shot");
		shot_free(shot);
	}
	filled_need(&filled, ledger_set_hasty(filled.ledger, false, &filled.error) == 0,
	    "end going fast");
}

static void
set_store(enum store_kind kind, int port, const char *name)
{
	struct store_settings *store = &filled.settings->stores[0];

	store->kind = kind;
	store->settle_s = kind == STORE_VICTORIAMETRICS ? 12 : 0;
	store->timeout_s = 60;
	snprintf(store->url, sizeof(store->url), "http://127.0.0.1:%d", port);
	snprintf(store->name, sizeof(store->name), "%s", name);
	snprintf(store->database, sizeof(store->database), "%s", name);
}

/* --- ours ---------------------------------------------------------------------------- */

static double
resident_mb(void)
{
	long pages = 0, resident = 0;
	FILE *file = fopen("/proc/self/statm", "r");

	if (file == NULL || fscanf(file, "%ld %ld", &pages, &resident) != 2)
		resident = 0;
	if (file != NULL)
		fclose(file);
	return (double)resident * (double)sysconf(_SC_PAGESIZE) * 1e-6;
}

/* Under a name of its own, so that nothing has been delivered to it. */
static double
time_delivery(size_t batches)
{
	enum delivery_state state;
	double retry_after_s, start_s = figure_now_s();
	struct delivery *delivery =
	    delivery_open(filled.settings, 0, filled.path, NULL, NULL, &filled.error);

	filled_need(&filled, delivery != NULL, "open the delivery");
	memset(peak_mb, 0, sizeof(peak_mb));
	do {
		state = delivery_step(delivery, &retry_after_s, &filled.error);
		size_t part =
		    (size_t)delivery_counts(delivery)->posts * QUARTERS / (batches + 1);
		double mb = resident_mb();
		if (part < QUARTERS && mb > peak_mb[part])
			peak_mb[part] = mb;
	} while (state == DELIVERY_MOVING);
	filled_need(&filled, state == DELIVERY_DONE, "deliver");
	filled_need(&filled, delivery_counts(delivery)->again == 0, "send it once");
	delivery_close(delivery);
	return figure_now_s() - start_s;
}

/* --- curl ------------------------------------------------------------------------------- */

struct bodies {
	size_t count, lines, bytes;
};

static void
write_body(const char *prefix, size_t number, const struct http_body *body)
{
	char name[400];

	snprintf(name, sizeof(name), "%s/%s%zu.gz", filled.folder, prefix, number);
	FILE *file = fopen(name, "wb");
	filled_need(&filled,
	    file != NULL && fwrite(body->bytes, 1, body->length, file) == body->length,
	    "write for curl");
	fclose(file);
}

/* The same lines in the same batches, as files. */
static struct bodies
write_bodies(const char *prefix)
{
	struct bodies bodies = {0};
	struct loader loader;
	struct settling_mark mark = {0};
	struct batch batch;
	struct http_body body = {0};
	struct http *http = http_open(&(struct http_settings){.url = ""});

	batch_init(&batch, LOADER_BATCH_BYTES + LOADER_PIECE_BYTES);
	filled_need(&filled,
	    http != NULL && loader_open(&loader, filled.settings, 0, filled.path,
				&filled.error) == 0,
	    "open for curl");
	for (;;) {
		size_t length;
		batch_clear(&batch);
		filled_need(&filled,
		    loader_fill(&loader, STREAM_SHOT, &mark, &batch, &filled.error) ==
			0,
		    "read for curl");
		if (batch.change == 0)
			break;
		mark.change = batch.change;
		const char *lines = batch_span(&batch, &length);
		filled_need(&filled,
		    http_pack(http, lines, length, &body, &filled.error) == 0, "pack");
		write_body(prefix, bodies.count++, &body);
		bodies.lines += batch.count;
		bodies.bytes += length;
	}
	free(body.bytes);
	batch_release(&batch);
	loader_close(&loader);
	http_close(http);
	return bodies;
}

static double
time_curl(const char *prefix, size_t count)
{
	const struct store_settings *store = &filled.settings->stores[0];
	char name[400], command[500];

	snprintf(name, sizeof(name), "%s/task", filled.folder);
	FILE *file = fopen(name, "w");
	filled_need(&filled, file != NULL, "write for curl");
	for (size_t i = 0; i < count; i++)
		fprintf(file,
		    "%sheader=\"Content-Encoding: "
		    "gzip\"\ndata-binary=\"@%s/%s%zu.gz\"\n"
		    "url=%s/write?db=%s&precision=ns\n",
		    i > 0 ? "next\n" : "", filled.folder, prefix, i, store->url,
		    store->database);
	fclose(file);
	double start_s = figure_now_s();
	snprintf(command, sizeof(command), "curl -sfK '%s'", name);
	filled_need(&filled, system(command) == 0, "curl");
	return figure_now_s() - start_s;
}

/* --- one against the other ---------------------------------------------------------------- */

static void
compare(enum store_kind kind, struct real_influx *server, const char *name)
{
	char to[32], figure[64];
	double curl_s = 0, ours_s = 0;

	set_store(kind, server->port, name);
	struct bodies bodies = write_bodies(name);
	/* In turns, as the server slows down while it fills: ours, curl, curl, ours. */
	for (int i = 0; i < 2 * ROUNDS; i++) {
		bool ours = i % 4 == 0 || i % 4 == 3;
		snprintf(to, sizeof(to), "%s%d", name, i);
		set_store(kind, server->port, to);
		if (kind == STORE_INFLUXDB1) {
			char query[64];
			snprintf(query, sizeof(query), "CREATE+DATABASE+%s", to);
			free(influx_query(server, query));
		}
		if (ours)
			ours_s += time_delivery(bodies.count);
		else
			curl_s += time_curl(name, bodies.count);
	}
	snprintf(figure, sizeof(figure), "drain_%s_ratio", name);
	figure_at_least(figure, curl_s / ours_s, "", 0.9,
	    "curl posting the same %zu lines of %d shots to the same store, in turns, "
	    "%d times",
	    bodies.lines, SHOTS, ROUNDS);
	snprintf(figure, sizeof(figure), "drain_%s_lines", name);
	figure_only(figure, (double)bodies.lines * ROUNDS / ours_s, "/s",
	    "%.0f MB in %zu batches of %d", (double)bodies.bytes * 1e-6, bodies.count,
	    BATCH_LINES);
	snprintf(figure, sizeof(figure), "drain_%s_memory", name);
	figure_at_most(figure, peak_mb[QUARTERS - 1] / peak_mb[0], "", 1.05,
	    "of the last quarter (%.1f MB) and the first", peak_mb[QUARTERS - 1]);
}

int
main(void)
{
	bool curl = system("curl --version > /dev/null") == 0;

	if (!curl || (!influx_there() && !victoria_there())) {
		figure_skipped("drain", "there is no curl, or no store");
		return 0;
	}
	fill();
	if (influx_there()) {
		influx_prepare(&influx);
		influx_start(&influx);
		compare(STORE_INFLUXDB1, &influx, "influx");
		influx_close(&influx);
	}
	if (victoria_there()) {
		victoria_prepare(&victoria);
		victoria_start(&victoria);
		compare(STORE_VICTORIAMETRICS, &victoria.server, "victoria");
		victoria_close(&victoria);
	}
	filled_close(&filled);
	return 0;
}
