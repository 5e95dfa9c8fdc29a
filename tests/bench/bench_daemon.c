/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the daemon itself costs with a line of 300 channels at 2 Hz: its share of a core,
 * beside a bare libmodbus loop that reads the same blocks at the same rate in the same
 * seconds, and its memory, soon after the start and after hours of a machine that stands,
 * when the tracker keeps as many readings as it ever does and the ledger of some weeks has
 * been looked through.  Then what live readings cost beside that, for a store that is away:
 * its share of a core, and what it writes.
 */
#include <fcntl.h>
#include <signal.h>
#include <spawn.h>
#include <sys/wait.h>

#include "conf/settings.h"
#include "daemon/ledger/ledger_read.h"
#include "daemon/run/inspection.h"
#include "tests/bench/bare.h"
#include "tests/bench/figure.h"
#include "tests/bench/folder.h"
#include "tests/unit/daemon/fieldbus/server.h"

extern char **environ;

enum {
	CHANNELS = 300,
	DEVICES = 4,
	PERIOD_MS = 500,
	SECONDS = 20,
	STANDING_RATE = 240, /* of the clock */
	STANDING_S = INSPECTION_FIRST_S + 15,
	FILLED_SHOTS = 5000,
	READINGS_S = 10,
	READINGS_FOR_S = 60,
	NOISE = 100, /* a degree: so that the readings are no easy prey for zlib */
};

/* All on one server, which answers at once. */
static const char configuration[] =
    "[site]\nname = bench\ntimezone = UTC\n[ledger]\npath = %s/ledger.db\n"
    "[line line-1]\nmachine = rotary\nstations = load, oven, form\n"
    "heat_timer_s = 230\n"
    "[device controller]\nline = line-1\naddress = 127.0.0.1:%d\nperiod_ms = 500\n"
    "[channel controller.rotating]\nrole = rotating\ntable = discrete\naddress = 0\n"
    "type = bit\n"
    "[channel controller.closed]\nrole = form_closed\ntable = discrete\naddress = 1\n"
    "type = bit\n"
    "[channel controller.sag]\nrole = sag_eye\ntable = discrete\naddress = 2\n"
    "type = bit\n"
    "[channel controller.load]\nrole = sheet_at_load\ntable = discrete\naddress = 3\n"
    "type = bit\n"
    "[channel controller.form]\nrole = sheet_at_form\ntable = discrete\naddress = 4\n"
    "type = bit\n"
    "[channel controller.automatic]\nrole = automatic\ntable = discrete\naddress = 5\n"
    "type = bit\n"
    "[channel controller.fault]\nrole = fault\ntable = discrete\naddress = 6\n"
    "type = bit\n"
    "[channel controller.recipe]\nrole = recipe\ntable = holding\naddress = 0\n"
    "type = uint16\n"
    "[channel controller.count]\nrole = cycle_count\ntable = holding\naddress = 1\n"
    "type = uint16\n"
    "[device pyrometers]\nline = line-1\naddress = 127.0.0.1:%d\nperiod_ms = 500\n"
    "[channel pyrometers.top]\nrole = surface_top\ncount = 8\ntable = input\n"
    "address = 0\ntype = int16\nscale = 0.01\nunit = C\n"
    "[channel pyrometers.bottom]\nrole = surface_bottom\ncount = 8\ntable = input\n"
    "address = 8\ntype = int16\nscale = 0.01\nunit = C\n"
    "[device ovens]\nline = line-1\naddress = 127.0.0.1:%d\nperiod_ms = 500\n"
    "[channel ovens.top]\nrole = zone_top\ncount = 100\ntable = holding\naddress = 0\n"
    "type = uint16\nscale = 0.01\nunit = %%\nrated_kw = 3\n"
    "[channel ovens.bottom]\nrole = zone_bottom\ncount = 100\ntable = holding\n"
    "address = 100\ntype = uint16\nscale = 0.01\nunit = %%\nrated_kw = 3\n"
    "[device water]\nline = line-1\naddress = 127.0.0.1:%d\nperiod_ms = 500\n"
    "[channel water.tool]\nrole = tool\ncount = 42\ntable = input\naddress = 0\n"
    "type = int16\nscale = 0.01\nunit = C\n"
    "[channel water.return]\nrole = water_return\ncount = 16\ntable = input\n"
    "address = 42\ntype = int16\nscale = 0.01\nunit = C\n"
    "[channel water.flow]\nrole = water_flow\ncount = 16\ntable = input\n"
    "address = 58\ntype = int16\nscale = 0.01\nunit = L/min\n"
    "[channel water.supply]\nrole = water_supply\ntable = input\naddress = 74\n"
    "type = int16\nscale = 0.01\nunit = C\n";

/* Nobody listens there. */
static const char away[] =
    "[store away]\nkind = influxdb1\nurl = http://127.0.0.1:9\ndatabase = bench\n"
    "readings_s = %d\n";

static struct folder folder;
static struct server server;
static char config[300];

static _Noreturn void
give_up(const char *what)
{
	fprintf(stderr, "bench_daemon: %s; its log is in %s\n", what, folder.path);
	exit(1);
}

/* With live readings every `readings_s`; 0: none, but the store all the same; -1: neither. */
static void
write_configuration(int readings_s)
{
	FILE *file;

	snprintf(config, sizeof config, "%s/line.ini", folder.path);
	file = fopen(config, "w");
	if (!file)
		give_up("cannot write the configuration");
	fprintf(file, configuration, folder.path, server.port, server.port, server.port,
	    server.port);
	if (readings_s >= 0)
		fprintf(file, away, readings_s);
	fclose(file);
}

/* --- the daemon -------------------------------------------------------------------- */

/* `program` of the build; what it says goes to the log. */
static pid_t
start_program(const char *name, char **words)
{
	const char *build = getenv("EVENSOAK_BUILD");
	char program[300], log[300];
	posix_spawn_file_actions_t actions;
	pid_t started;

	snprintf(program, sizeof program, "%s/%s", build ? build : "build", name);
	snprintf(log, sizeof log, "%s/log", folder.path);
	words[0] = program;
	posix_spawn_file_actions_init(&actions);
	posix_spawn_file_actions_addopen(
	    &actions, 2, log, O_WRONLY | O_CREAT | O_APPEND, 0600);
	if (posix_spawn(&started, program, &actions, NULL, words, environ) != 0)
		give_up(program);
	posix_spawn_file_actions_destroy(&actions);
	return started;
}

/* Some weeks of a line that was logged before. */
static void
fill_ledger(void)
{
	char shots[16], end[24];
	char *words[] = {NULL, config, shots, (char[]){"200"}, end, NULL};
	int status;

	snprintf(shots, sizeof shots, "%d", FILLED_SHOTS);
	snprintf(end, sizeof end, "%lld", (long long)time(NULL));
	pid_t filler = start_program("tests/system/fill_ledger", words);
	if (waitpid(filler, &status, 0) != filler || status != 0)
		give_up("the ledger is not filled");
}

/* Starts it and waits until it polls. */
static pid_t
start_daemon(int clock_rate)
{
	int before = server.requests;
	char rate[16];
	char *words[] = {
	    NULL, (char[]){"--config"}, config, (char[]){"--clock-rate"}, rate, NULL};

	snprintf(rate, sizeof rate, "%d", clock_rate);
	pid_t daemon = start_program("evensoakd", words);
	for (int i = 0; server.requests < before + 8 * DEVICES; i++) {
		if (i == 1000 || waitpid(daemon, NULL, WNOHANG) != 0)
			give_up("the daemon does not poll");
		usleep(10000);
	}
	return daemon;
}

static void
stop_daemon(pid_t daemon)
{
	int status;

	kill(daemon, SIGTERM);
	if (waitpid(daemon, &status, 0) != daemon || status != 0)
		give_up("the daemon did not end well");
}

/* At its highest. */
static double
resident_mib(pid_t daemon)
{
	char name[64], line[256];
	double kib = 0;
	FILE *file;

	snprintf(name, sizeof name, "/proc/%d/status", (int)daemon);
	file = fopen(name, "r");
	while (file && fgets(line, sizeof line, file))
		if (strncmp(line, "VmHWM:", 6) == 0)
			kib = strtod(line + 6, NULL);
	if (file)
		fclose(file);
	if (kib <= 0)
		give_up("no memory of the daemon");
	return kib / 1024;
}

/* --- the bare loop ----------------------------------------------------------------- */

struct bare {
	pthread_t thread;
	atomic_bool stop;
	struct read_plan *plans[DEVICES];
	modbus_t *modbus[DEVICES];
};

static void *
bare_run(void *arg)
{
	struct bare *bare = arg;
	struct timespec next;

	clock_gettime(CLOCK_MONOTONIC, &next);
	while (!bare->stop) {
		for (int i = 0; i < DEVICES; i++)
			bare_read(bare->modbus[i], bare->plans[i]);
		next.tv_nsec += PERIOD_MS * 1000000L;
		next.tv_sec += next.tv_nsec / 1000000000L;
		next.tv_nsec %= 1000000000L;
		clock_nanosleep(CLOCK_MONOTONIC, TIMER_ABSTIME, &next, NULL);
	}
	return NULL;
}

static void
start_bare(struct bare *bare)
{
	static struct problems problems;
	struct settings *settings = settings_load(config, &problems);

	if (!settings || settings->channel_count != CHANNELS ||
	    settings->device_count != DEVICES)
		give_up(
		    settings ? "not the line that was meant" : problems.list[0].text);
	for (uint32_t i = 0; i < DEVICES; i++) {
		bare->plans[i] = plan_new(settings, i);
		bare->modbus[i] = bare_open(server.port);
	}
	settings_free(settings);
	if (pthread_create(&bare->thread, NULL, bare_run, bare))
		give_up("no thread");
}

static void
stop_bare(struct bare *bare)
{
	bare->stop = true;
	pthread_join(bare->thread, NULL);
	for (int i = 0; i < DEVICES; i++) {
		plan_free(bare->plans[i]);
		bare_close(bare->modbus[i]);
	}
}

/* --- figures ------------------------------------------------------------------------- */

static double
used_s(clockid_t clock)
{
	struct timespec used;

	if (clock_gettime(clock, &used))
		give_up("no time of the processor");
	return (double)used.tv_sec + 1e-9 * (double)used.tv_nsec;
}

static void
bench_running(void)
{
	static struct bare bare;
	pid_t daemon = start_daemon(1);
	clockid_t ours, theirs;

	start_bare(&bare);
	if (clock_getcpuclockid(daemon, &ours) ||
	    pthread_getcpuclockid(bare.thread, &theirs))
		give_up("no clock of the processor");
	sleep(2); /* what is done once is done */
	double start_s = figure_now_s();
	double ours_s = used_s(ours), theirs_s = used_s(theirs);
	sleep(SECONDS);
	double took_s = figure_now_s() - start_s;
	ours_s = used_s(ours) - ours_s;
	theirs_s = used_s(theirs) - theirs_s;
	double memory_mib = resident_mib(daemon);
	stop_bare(&bare);
	stop_daemon(daemon);

	figure_at_most("daemon_core_share", 100 * ours_s / took_s, "%", 1,
	    "%d channels at 2 Hz for %d s; a bare libmodbus loop meanwhile: %.2f %%",
	    CHANNELS, SECONDS, 100 * theirs_s / took_s);
	figure_at_most("daemon_memory", memory_mib, "MiB", 24,
	    "resident at its highest, the same line");
}

static int
take_look(void *arg, const struct ledger_health *health)
{
	if (strcmp(health->subject, "ledger check") == 0)
		*(int64_t *)arg = health->good;
	return 0;
}

/* How often the daemon has looked through its ledger; `*mb` is its size. */
static int64_t
looks(double *mb)
{
	struct ledger_summary summary;
	char path[300];
	int64_t count = 0;

	snprintf(path, sizeof path, "%s/ledger.db", folder.path);
	struct ledger_read *ledger = ledger_read_open(path, NULL);
	if (!ledger || ledger_read_summary(ledger, &summary, NULL) != 0 ||
	    ledger_read_health(ledger, take_look, &count, NULL) != 0)
		give_up("the ledger cannot be read");
	*mb = (double)summary.bytes / 1e6;
	ledger_read_close(ledger);
	return count;
}

static void
bench_standing(void)
{
	double mb;

	fill_ledger();
	pid_t daemon = start_daemon(STANDING_RATE);
	sleep(STANDING_S);
	double memory_mib = resident_mib(daemon);
	if (looks(&mb) == 0)
		give_up("the ledger was not looked through");
	stop_daemon(daemon);
	figure_at_most("daemon_memory_standing", memory_mib, "MiB", 24,
	    "the same after %.0f hours of a machine that stands, clock at %d times, "
	    "and a look through a ledger of %.0f MB",
	    (double)STANDING_RATE * STANDING_S / 3600, STANDING_RATE, mb);
}

/* What the daemon gave to write(2): to the ledger and its WAL; sockets are sent to. */
static double
written_kb(pid_t daemon)
{
	char name[64], line[256];
	double bytes = -1;
	FILE *file;

	snprintf(name, sizeof name, "/proc/%d/io", (int)daemon);
	file = fopen(name, "r");
	while (file && fgets(line, sizeof line, file))
		if (strncmp(line, "wchar:", 6) == 0)
			bytes = strtod(line + 6, NULL);
	if (file)
		fclose(file);
	if (bytes < 0)
		give_up("no count of what is written");
	return bytes / 1000;
}

struct cost {
	double core_percent, kb_a_second;
};

static struct cost
cost_of(int readings_s)
{
	struct cost cost;
	clockid_t clock;

	write_configuration(readings_s);
	pid_t daemon = start_daemon(1);
	if (clock_getcpuclockid(daemon, &clock))
		give_up("no clock of the processor");
	sleep(2);
	double start_s = figure_now_s(), used = used_s(clock), kb = written_kb(daemon);
	sleep(READINGS_FOR_S);
	double took_s = figure_now_s() - start_s;
	cost.core_percent = 100 * (used_s(clock) - used) / took_s;
	cost.kb_a_second = (written_kb(daemon) - kb) / took_s;
	stop_daemon(daemon);
	return cost;
}

static void
bench_readings(void)
{
	struct cost off, on;

	server.noise = NOISE;
	off = cost_of(0);
	on = cost_of(READINGS_S);
	figure_at_most("daemon_readings_core_share", on.core_percent, "%", 1,
	    "live readings every %d s; without them %.2f %%", READINGS_S,
	    off.core_percent);
	figure_at_most("daemon_readings_written",
	    READINGS_S * (on.kb_a_second - off.kb_a_second), "kB", 32,
	    "an interval of %d channels into the WAL, more than without them",
	    CHANNELS);
}

int
main(void)
{
	if (!folder_make(&folder, "/tmp"))
		give_up("no folder");
	server_start(&server);
	write_configuration(-1);
	bench_running();
	bench_standing();
	bench_readings();
	server_stop(&server);
	folder_remove(&folder);
	return 0;
}
