/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Whole sessions over real sockets: the truth does not depend on the clock's rate nor
 * on whoever polls.
 */
#include <stdarg.h>
#include <stddef.h>
#include <setjmp.h>
#include <stdint.h>

#include <cmocka.h>
#include <arpa/inet.h>
#include <netinet/in.h>
#include <signal.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/wait.h>
#include <time.h>
#include <unistd.h>

#include "contrib/linesim/machine.h"
#include "contrib/linesim/options.h"
#include "contrib/linesim/session.h"
#include "daemon/base/error.h"

#define START_NS INT64_C(1772427600000000000) /* 2026-03-02T05:00:00Z */

static char folder[200];

static int
make_folder(void **state)
{
	(void)state;
	const char *parent = getenv("TMPDIR");

	snprintf(folder, sizeof folder, "%s/linesim-XXXXXX",
	    parent == NULL ? "/tmp" : parent);
	return mkdtemp(folder) == NULL;
}

static const char *
path_of(const char *name)
{
	static char paths[4][300];
	static int next;
	char *path = paths[next++ % 4];

	snprintf(path, sizeof paths[0], "%s/%s", folder, name);
	return path;
}

static int
remove_folder(void **state)
{
	(void)state;
	static const char *const names[] = {
	    "ready", "first", "second", "script", "out"};

	for (size_t i = 0; i < sizeof names / sizeof names[0]; i++)
		unlink(path_of(names[i]));
	return rmdir(folder);
}

/* The session in a process of its own: it sets the clock and handlers. */
static pid_t
start_kind(const char *kind, double rate, const char *truth, double duration_s)
{
	struct options options = {.machine = machine_kind_find(kind),
	    .seed = 4,
	    .clock_rate = rate,
	    .clock_start = {START_NS},
	    .duration_s = duration_s,
	    .ready = path_of("ready"),
	    .truth = path_of(truth)};
	struct error error = {""};
	pid_t child;

	unlink(path_of("ready"));
	fflush(NULL);
	child = fork();
	if (child == 0) {
		if (freopen(path_of("out"), "w", stdout) == NULL)
			_exit(9);
		int code = session_run(&options, &error);
		if (code != 0)
			fprintf(stderr, "%s\n", error.text);
		fflush(stdout);
		_exit(code == 0 ? 0 : 1);
	}
	assert_true(child > 0);
	return child;
}

static pid_t
start(double rate, const char *truth, double duration_s)
{
	return start_kind("rotary", rate, truth, duration_s);
}

static int
finish(pid_t child)
{
	int status;

	assert_int_equal(waitpid(child, &status, 0), child);
	assert_true(WIFEXITED(status));
	return WEXITSTATUS(status);
}

static char *
read_all(const char *name)
{
	FILE *file = fopen(path_of(name), "r");
	char *content = calloc(1, 200000);

	assert_non_null(file);
	assert_non_null(content);
	assert_true(fread(content, 1, 199999, file) > 0);
	fclose(file);
	return content;
}

/* The controller's port, once the file that tells it is there. */
static uint16_t
wait_for_port(void)
{
	const struct timespec moment = {.tv_nsec = 5000000};
	char line[200];
	unsigned port = 0;

	for (int tries = 0; port == 0 && tries < 2000; tries++) {
		FILE *file = fopen(path_of("ready"), "r");
		if (file == NULL) {
			nanosleep(&moment, NULL);
			continue;
		}
		while (fgets(line, sizeof line, file) != NULL)
			if (strncmp(line, "controller ", 11) == 0)
				port = (unsigned)strtoul(line + 11, NULL, 10);
		fclose(file);
	}
	assert_true(port > 0);
	return (uint16_t)port;
}

static int
dial(uint16_t port)
{
	struct sockaddr_in address = {.sin_family = AF_INET,
	    .sin_port = htons(port),
	    .sin_addr.s_addr = htonl(INADDR_LOOPBACK)};
	int fd = socket(AF_INET, SOCK_STREAM | SOCK_CLOEXEC, 0);

	assert_true(fd >= 0);
	assert_int_equal(connect(fd, (struct sockaddr *)&address, sizeof address), 0);
	return fd;
}

/* Asks for the recipe until the line has gone; how many answers came. */
static int
poll_recipe(int fd)
{
	static const uint8_t request[] = {0, 7, 0, 0, 0, 6, 1, 3, 0, 11, 0, 1};
	static const uint8_t expected[] = {0, 7, 0, 0, 0, 5, 1, 3, 2, 0, 12};
	uint8_t answer[sizeof expected];
	int answers = 0;

	while (send(fd, request, sizeof request, MSG_NOSIGNAL) == sizeof request &&
	       recv(fd, answer, sizeof answer, MSG_WAITALL) == sizeof answer) {
		assert_memory_equal(answer, expected, sizeof expected);
		answers++;
	}
	return answers;
}

static void
the_truth_is_the_same_at_any_rate_and_under_polling(void **state)
{
	(void)state;
	pid_t child = start(8000, "first", 3600);

	assert_int_equal(finish(child), 0);
	child = start(5000, "second", 3600);
	int fd = dial(wait_for_port());
	assert_true(poll_recipe(fd) > 100);
	close(fd);
	assert_int_equal(finish(child), 0);
	char *first = read_all("first"), *second = read_all("second");
	assert_non_null(strstr(first, "\n15,complete"));
	assert_string_equal(first, second);
	free(first);
	free(second);
}

static void
two_masters_at_a_port_are_answered_and_writes_are_told(void **state)
{
	(void)state;
	static const uint8_t read[] = {0, 1, 0, 0, 0, 6, 1, 3, 0, 11, 0, 1};
	static const uint8_t write[] = {0, 2, 0, 0, 0, 6, 1, 6, 0, 11, 0, 31};
	static const uint8_t refused[] = {0, 2, 0, 0, 0, 3, 1, 0x86, 1};
	uint8_t answer[11];
	pid_t child = start(1, "first", 600);
	uint16_t port = wait_for_port();
	int one = dial(port), two = dial(port);

	assert_int_equal(
	    send(one, read, 7, MSG_NOSIGNAL), 7); /* the rest comes later */
	assert_int_equal(send(two, write, sizeof write, MSG_NOSIGNAL), sizeof write);
	assert_int_equal(
	    recv(two, answer, sizeof refused, MSG_WAITALL), sizeof refused);
	assert_memory_equal(answer, refused, sizeof refused);
	assert_int_equal(
	    send(one, read + 7, sizeof read - 7, MSG_NOSIGNAL), sizeof read - 7);
	assert_int_equal(recv(one, answer, 11, MSG_WAITALL), 11);
	assert_int_equal(answer[10], 12);
	close(one);
	close(two);
	kill(child, SIGTERM);
	assert_int_equal(finish(child), 0);
	char *out = read_all("out");
	assert_non_null(strstr(out, "writes refused: 1, functions seen: 3 6\n"));
	free(out);
}

static void
only_the_devices_of_the_kind_listen(void **state)
{
	(void)state;
	static const struct {
		const char *kind, *there, *not_there;
	} known[] = {{"rotary", "\nwater ", "-b "},
	    {"rotary-two-ovens", "\npyrometers-b ", "\nwater-b "},
	    {"rotary-two-ovens", "\novens-b ", "\nwater-b "},
	    {"shuttle-two-sides", "\nwater-b ", "ovens-b "}};

	for (size_t i = 0; i < sizeof known / sizeof known[0]; i++) {
		pid_t child = start_kind(known[i].kind, 1, "first", 600);
		wait_for_port();
		char *ready = read_all("ready");
		assert_non_null(strstr(ready, known[i].there));
		assert_null(strstr(ready, known[i].not_there));
		free(ready);
		kill(child, SIGTERM);
		assert_int_equal(finish(child), 0);
	}
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(the_truth_is_the_same_at_any_rate_and_under_polling),
	    cmocka_unit_test(only_the_devices_of_the_kind_listen),
	    cmocka_unit_test(two_masters_at_a_port_are_answered_and_writes_are_told),
	};
	return cmocka_run_group_tests(tests, make_folder, remove_folder);
}
