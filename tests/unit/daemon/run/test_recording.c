/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Recordings: what goes in comes out, also after the end was cut off or the disk was full. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <math.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/resource.h>
#include <sys/stat.h>
#include <unistd.h>

#include "conf/raw.h"
#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/log.h"
#include "daemon/base/scan.h"
#include "daemon/run/recording.h"
#include "daemon/shot/pack.h"

static const char ini[] =
    "[site]\nname = t\ntimezone = UTC\ntemperature_unit = C\n"
    "[ledger]\npath = /tmp/none.db\n"
    "[line r]\nmachine = rotary\nstations = load, oven, form\nheat_min_s = 30\n"
    "heat_timer_s = 230\n"
    "[device plc]\nline = r\naddress = 127.0.0.1:1502\nperiod_ms = 500\n"
    "[channel plc.rotating]\nrole = rotating\ntable = discrete\naddress = 0\n"
    "type = bit\n"
    "[channel plc.closed]\nrole = form_closed\ntable = discrete\naddress = 1\n"
    "type = bit\n"
    "[channel plc.tool]\nrole = tool\ncount = 40\ntable = input\naddress = 0\n"
    "type = int16\nscale = 0.1\nunit = C\n";

enum { SCANS = 1000 };

static struct settings *settings;
static char folder[300], path[320];
static struct error error;

static int
begin(void **state)
{
	static struct problems problems;
	const char *temporary = getenv("TMPDIR");

	(void)state;
	log_set_level(LOG_LEVEL_ERROR - 1);
	srandom(1);
	signal(SIGXFSZ, SIG_IGN);
	settings = settings_parse(ini, "recording.ini", &problems);
	if (settings == NULL)
		print_error("%s\n", problems.list[0].text);
	snprintf(folder, sizeof(folder), "%s/evensoak-recording-XXXXXX",
	    temporary != NULL ? temporary : "/tmp");
	if (settings == NULL || mkdtemp(folder) == NULL)
		return -1;
	snprintf(path, sizeof(path), "%s/recording", folder);
	return 0;
}

static int
end(void **state)
{
	(void)state;
	settings_free(settings);
	unlink(path);
	return rmdir(folder);
}

/* Scan `number`, half a second after the one before. */
static void
put(struct recording *recording, int number)
{
	uint32_t count = settings->devices[0].channel_count;
	struct scan *scan = calloc(1, scan_bytes(count));

	scan->count = count;
	scan->at.ns = scan->sent.ns = (number + 1) * CLOCK_SECOND_NS / 2;
	scan->wall.ns = scan->at.ns + 1700000000 * CLOCK_SECOND_NS;
	for (uint32_t i = 0; i < count; i++)
		scan->readings[i] = raw_reading(
		    &settings->channels[i], i < 2 ? 0 : (uint32_t)random() & 0xfff);
	recording_put(recording, scan);
	free(scan);
}

static void
record(int first, int last)
{
	struct recording *recording = recording_open(path, &error);

	assert_non_null(recording);
	recording_begin(recording, settings);
	for (int i = first; i < last; i++)
		put(recording, i);
	recording_close(recording);
}

struct counts {
	int sessions, packs, scans;
	int64_t last_ns;
};

static int
count_scan(void *arg, const struct scan *scan)
{
	struct counts *counts = arg;

	counts->scans++;
	assert_true(scan->at.ns > counts->last_ns);
	counts->last_ns = scan->at.ns;
	return 0;
}

static int
play(struct counts *counts)
{
	struct recording_reader *reader = recording_reader_open(path, &error);
	struct recording_block block;
	int rc;

	*counts = (struct counts){0};
	if (reader == NULL)
		return ERROR_INVALID;
	while ((rc = recording_next(reader, &block, &error)) > 0) {
		if (block.kind == RECORDING_SETTINGS) {
			assert_string_equal((const char *)block.bytes, ini);
			counts->sessions++;
			counts->last_ns = 0;
			continue;
		}
		counts->packs++;
		assert_int_equal(
		    pack_read(block.bytes, block.length,
			&(struct pack_reader){settings, settings, count_scan, counts},
			&error),
		    0);
	}
	recording_reader_close(reader);
	return rc;
}

static off_t
size(void)
{
	struct stat file;

	assert_int_equal(stat(path, &file), 0);
	return file.st_size;
}

static void
what_was_recorded_is_played(void **state)
{
	struct counts counts;

	(void)state;
	record(0, SCANS);
	assert_int_equal(play(&counts), 0);
	assert_int_equal(counts.sessions, 1);
	assert_int_equal(counts.scans, SCANS);
	/* a kill costs half a minute at most */
	assert_true(counts.packs >= SCANS / 2 / RECORDING_PACK_S);
}

static void
a_recording_goes_on_behind_its_last_whole_block(void **state)
{
	struct counts counts;
	off_t whole;

	(void)state;
	record(0, 100);
	whole = size();
	record(0, 100);
	assert_int_equal(play(&counts), 0);
	assert_int_equal(counts.sessions, 2);
	assert_int_equal(counts.scans, 200);
	/* the second one is cut off anywhere */
	for (off_t cut = size() - 1; cut > whole; cut -= 101) {
		assert_int_equal(truncate(path, cut), 0);
		assert_int_equal(play(&counts), 0);
		assert_true(counts.scans >= 100 && counts.scans < 200);
	}
	assert_int_equal(truncate(path, whole + 3), 0);
	record(0, 50);
	assert_int_equal(play(&counts), 0);
	assert_int_equal(counts.sessions, 2);
	assert_int_equal(counts.scans, 150);
}

static void
what_a_power_cut_left_blank_is_removed(void **state)
{
	struct counts counts;
	off_t whole;

	(void)state;
	record(0, 100);
	whole = size();
	assert_int_equal(truncate(path, whole + 5000), 0);
	assert_int_equal(play(&counts), ERROR_INVALID);
	record(0, 50);
	assert_int_equal(play(&counts), 0);
	assert_int_equal(counts.scans, 150);
}

static void
a_full_disk_ends_the_recording_at_a_whole_block(void **state)
{
	struct rlimit before, limit;
	struct counts counts;
	struct recording *recording;

	(void)state;
	getrlimit(RLIMIT_FSIZE, &before);
	limit = before;
	recording = recording_open(path, &error);
	assert_non_null(recording);
	recording_begin(recording, settings);
	limit.rlim_cur = 20000;
	setrlimit(RLIMIT_FSIZE, &limit);
	for (int i = 0; i < SCANS; i++)
		put(recording, i);
	setrlimit(RLIMIT_FSIZE, &before);
	for (int i = SCANS; i < 2 * SCANS; i++)
		put(recording, i); /* it has ended: nothing comes behind the hole */
	recording_close(recording);
	assert_true(size() <= 20000);
	assert_int_equal(play(&counts), 0);
	assert_true(counts.scans > 0 && counts.scans < SCANS);
	assert_int_equal(counts.last_ns, counts.scans * CLOCK_SECOND_NS / 2);
}

static void
write_file(const char *bytes, size_t length)
{
	FILE *file = fopen(path, "wb");

	assert_non_null(file);
	assert_int_equal(fwrite(bytes, 1, length, file), length);
	fclose(file);
}

static void
another_file_is_not_touched(void **state)
{
	struct counts counts;

	(void)state;
	write_file("a letter to the manager\n", 24);
	assert_null(recording_open(path, &error));
	assert_non_null(strstr(error.text, "is no recording"));
	assert_int_equal(size(), 24);
	assert_int_equal(play(&counts), ERROR_INVALID);
	snprintf(path, sizeof(path), "%s/no/recording", folder);
	assert_null(recording_open(path, &error));
	assert_non_null(strstr(error.text, "No such file"));
	snprintf(path, sizeof(path), "%s/recording", folder);
}

static void
what_is_no_block_is_refused(void **state)
{
	static const char bad_kind[] = RECORDING_HEAD "X\1\0\0\0x";
	static const char too_long[] = RECORDING_HEAD "P\0\0\0\x7fx";
	struct counts counts;

	(void)state;
	write_file(bad_kind, sizeof(bad_kind) - 1);
	assert_int_equal(play(&counts), ERROR_INVALID);
	write_file(too_long, sizeof(too_long) - 1);
	assert_int_equal(play(&counts), ERROR_INVALID);
	assert_non_null(strstr(error.text, "damaged"));
	/* nobody could read what would come behind it */
	assert_null(recording_open(path, &error));
	assert_non_null(strstr(error.text, "damaged"));
	assert_int_equal(size(), sizeof(too_long) - 1);
}

#define RECORDED(f) cmocka_unit_test_setup_teardown(f, begin, end)

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    RECORDED(what_was_recorded_is_played),
	    RECORDED(a_recording_goes_on_behind_its_last_whole_block),
	    RECORDED(what_a_power_cut_left_blank_is_removed),
	    RECORDED(a_full_disk_ends_the_recording_at_a_whole_block),
	    RECORDED(another_file_is_not_touched),
	    RECORDED(what_is_no_block_is_refused),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
