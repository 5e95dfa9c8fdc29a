/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What 30 days without a store leave behind (14,400 shots of one line with 90 channels),
 * drained into a real InfluxDB and a real VictoriaMetrics, held against curl posting the
 * same lines to the same server.
 *
 * Curl posts the very batches, which were rendered and gzipped before, each part of them over
 * one connection; what counts is its time_total of each post, without its start and without
 * reading files.  Both go in turns, PART posts at a time, so that whatever else the machine does
 * meets both, and each fills a database of its own as fast as the other.
 *
 * The lines are made while the server works, on a second core: where the server or
 * somebody else keeps both busy the ratio falls.  And the memory that it takes: as much in
 * the last quarter as in the first.
 *
 *     bench_delivery [SHOTS]
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

enum { SHOTS = 14400, CHANNELS = 90, BATCH_LINES = 5000, PART = 20, QUARTERS = 4 };

static struct filled_ledger filled;
static struct real_influx influx;
static struct real_victoria victoria;
static double peak_mb[QUARTERS];
static int shots = SHOTS;

/* --- the ledger ---------------------------------------------------------------------- */

static void
fill(void)
{
	filled_open(&filled, 1);
	filled.settings->stores[0].batch_lines = BATCH_LINES;
	filled_need(&filled, ledger_set_hasty(filled.ledger, true, &filled.error) == 0,
	    "go fast");
	for (int i = 0; i < shots; i++) {
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

static struct delivery *
open_delivery(void)
{
	struct delivery *delivery =
	    delivery_open(filled.settings, 0, filled.path, NULL, NULL, &filled.error);

	filled_need(&filled, delivery != NULL, "open the delivery");
	memset(peak_mb, 0, sizeof(peak_mb));
	return delivery;
}

/* The seconds until it has made PART more of `all` posts, or all. */
static double
time_part(struct delivery *delivery, size_t all)
{
	double retry_after_s, start_s = figure_now_s();
	int64_t posts = delivery_counts(delivery)->posts;
	enum delivery_state state;

	do {
		state = delivery_step(delivery, &retry_after_s, &filled.error);
		size_t quarter =
		    (size_t)delivery_counts(delivery)->posts * QUARTERS / (all + 1);
		double mb = resident_mb();
		if (quarter < QUARTERS && mb > peak_mb[quarter])
			peak_mb[quarter] = mb;
	} while (state == DELIVERY_MOVING &&
		 delivery_counts(delivery)->posts < posts + PART);
	filled_need(
	    &filled, state == DELIVERY_MOVING || state == DELIVERY_DONE, "deliver");
	filled_need(&filled, delivery_counts(delivery)->again == 0, "send it once");
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

/* What is to be posted, from body `first` on, `count` of them. */
static void
write_task(const char *path, const char *prefix, size_t first, size_t count)
{
	const struct store_settings *store = &filled.settings->stores[0];
	FILE *file = fopen(path, "w");

	filled_need(&filled, file != NULL, "write for curl");
	for (size_t i = first; i < first + count; i++)
		fprintf(file,
		    "%sfail\nheader=\"Content-Encoding: gzip\"\n"
		    "write-out=\"%%{time_total}\\n\"\n"
		    "data-binary=\"@%s/%s%zu.gz\"\n"
		    "url=\"%s/write?db=%s_by_curl&precision=ns\"\n",
		    i > first ? "next\n" : "", filled.folder, prefix, i, store->url,
		    store->database);
	fclose(file);
}

/* The seconds that its posts take. */
static double
time_curl(const char *prefix, size_t first, size_t count)
{
	char task[400], command[500];
	char line[64];
	double sum_s = 0;

	snprintf(task, sizeof(task), "%s/task", filled.folder);
	write_task(task, prefix, first, count);
	snprintf(command, sizeof(command), "curl -sK '%s'", task);
	FILE *told = popen(command, "r");
	filled_need(&filled, told != NULL, "start curl");
	for (size_t i = 0; i < count; i++) {
		filled_need(
		    &filled, fgets(line, sizeof(line), told) != NULL, "time curl");
		sum_s += strtod(line, NULL);
	}
	filled_need(&filled, pclose(told) == 0, "curl");
	return sum_s;
}

/* --- one against the other ---------------------------------------------------------------- */

struct times {
	double curl_s, ours_s;
};

/* Each is first as often as second. */
static struct times
drain(const char *name, size_t bodies)
{
	struct delivery *delivery = open_delivery();
	struct times times = {0, 0};

	for (size_t first = 0; first < bodies; first += PART) {
		size_t count = bodies - first < PART ? bodies - first : PART;
		bool curl_first = first / PART % 2 != 0;
		if (curl_first)
			times.curl_s += time_curl(name, first, count);
		times.ours_s += time_part(delivery, bodies);
		if (!curl_first)
			times.curl_s += time_curl(name, first, count);
	}
	filled_need(&filled, (size_t)delivery_counts(delivery)->posts == bodies,
	    "make as many posts as curl");
	delivery_close(delivery);
	return times;
}

static void
compare(enum store_kind kind, struct real_influx *server, const char *name)
{
	static const char *const by[] = {"", "_by_curl"};
	char query[64], figure[64];

	set_store(kind, server->port, name);
	for (int i = 0; i < 2 && kind == STORE_INFLUXDB1; i++) {
		snprintf(query, sizeof(query), "CREATE+DATABASE+%s%s", name, by[i]);
		free(influx_query(server, query));
	}
	struct bodies bodies = write_bodies(name);
	struct times times = drain(name, bodies.count);
	snprintf(figure, sizeof(figure), "drain_%s_ratio", name);
	figure_at_least(figure, times.curl_s / times.ours_s, "", 0.9,
	    "curl posting the same %zu lines of %d shots to the same store, in turns",
	    bodies.lines, shots);
	snprintf(figure, sizeof(figure), "drain_%s_lines", name);
	figure_only(figure, (double)bodies.lines / times.ours_s, "/s",
	    "%.0f MB in %zu batches of %d; curl's %.4g", (double)bodies.bytes * 1e-6,
	    bodies.count, BATCH_LINES, (double)bodies.lines / times.curl_s);
	snprintf(figure, sizeof(figure), "drain_%s_memory", name);
	figure_at_most(figure, peak_mb[QUARTERS - 1] / peak_mb[0], "", 1.05,
	    "of the last quarter (%.1f MB) and the first", peak_mb[QUARTERS - 1]);
}

int
main(int argc, char **argv)
{
	bool curl = system("curl --version > /dev/null") == 0;

	if (!curl || (!influx_there() && !victoria_there())) {
		figure_skipped("drain", "there is no curl, or no store");
		return 0;
	}
	if (argc > 1)
		shots = (int)strtol(argv[1], NULL, 10);
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
