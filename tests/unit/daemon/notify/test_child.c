/* SPDX-License-Identifier: GPL-3.0-or-later */
/* Real programs that do what programs do: end well, fail, hang, fork, flood. */
#include "daemon/notify/child.h"

#include <errno.h>
#include <fcntl.h>
#include <pthread.h>
#include <signal.h>
#include <stdbool.h>
#include <sys/eventfd.h>
#include <sys/wait.h>

#include "daemon/base/clock.h"
#include "tests/unit/daemon/notify/script.h"

static char words[CHILD_WORDS];
static double took_s;
static int stop_fd = -1;

static enum child_end
run_as(const char *program, const char *input, double timeout_s)
{
	static char one[] = "ONE=1", two[] = "TWO=a b;$(c)";
	static char *const environment[] = {one, two, NULL};
	const struct child_order order = {.program = program,
	    .environment = environment,
	    .input = input,
	    .timeout_s = timeout_s,
	    .stop_fd = stop_fd,
	    .stop_s = 0.2};
	int64_t begun_ns = clock_mono().ns;
	enum child_end end = child_run(&order, words);

	took_s = (double)(clock_mono().ns - begun_ns) * 1e-9;
	return end;
}

static enum child_end
run_script(const char *lines, double timeout_s)
{
	write_script(lines);
	return run_as(script, "first line\nsecond 'line'\n", timeout_s);
}

static int
set_up(void **state)
{
	(void)state;
	make_folder();
	return 0;
}

static int
tear_down(void **state)
{
	(void)state;
	remove_folder();
	return 0;
}

/* Whether the process whose number a file has is there, a zombie not counted. */
static bool
is_alive(const char *name)
{
	char path[64], line[512] = "";
	long pid = strtol(file_text(name), NULL, 10);

	assert_true(pid > 1);
	snprintf(path, sizeof path, "/proc/%ld/stat", pid);
	FILE *file = fopen(path, "r");
	if (file == NULL)
		return false;
	assert_non_null(fgets(line, sizeof line, file));
	fclose(file);
	return strstr(line, ") Z ") == NULL;
}

/* A process that was killed is gone a moment later. */
static void
assert_gone(const char *name)
{
	for (int i = 0; i < 200 && is_alive(name); i++)
		sleep_ms(10);
	assert_false(is_alive(name));
}

static void
it_gets_its_input_and_nothing_else(void **state)
{
	(void)state;
	assert_int_equal(
	    run_script(
		"cat >$F/input; env >$F/environment; pwd >$F/pwd; echo $# >$F/count",
		10),
	    CHILD_DONE);
	assert_string_equal(file_text("input"), "first line\nsecond 'line'\n");
	assert_string_equal(file_text("pwd"), "/\n");
	assert_string_equal(file_text("count"), "0\n");
	assert_non_null(strstr(file_text("environment"), "ONE=1\n"));
	assert_non_null(strstr(file_text("environment"), "TWO=a b;$(c)\n"));
	assert_null(strstr(file_text("environment"), "HOME="));
	assert_null(strstr(file_text("environment"), "PATH=/usr/local/evensoak"));
}

static void
a_program_that_reads_nothing_ends_well(void **state)
{
	char *input = calloc(1, 200001);

	(void)state;
	assert_non_null(input);
	memset(input, 'x', 200000);
	write_script("exit 0");
	assert_int_equal(run_as(script, input, 10), CHILD_DONE);
	free(input);
}

static void
no_descriptor_but_three_is_inherited(void **state)
{
	int leak = open("/dev/null", O_RDONLY); /* no close-on-exec */

	(void)state;
	assert_true(leak > 2);
	assert_int_equal(fcntl(leak, F_DUPFD, 40), 40);
	assert_int_equal(run_script("exec ls /proc/self/fd >$F/fds", 10), CHILD_DONE);
	/* 3 is ls's own, of the folder that it reads. */
	assert_string_equal(file_text("fds"), "0\n1\n2\n3\n");
	close(leak);
	close(40);
}

static void
no_signal_is_blocked_or_ignored(void **state)
{
	sigset_t all, before;

	(void)state;
	signal(SIGPIPE, SIG_IGN);
	sigfillset(&all);
	pthread_sigmask(SIG_BLOCK, &all, &before);
	assert_int_equal(
	    run_script("grep -E '^Sig(Blk|Ign)' /proc/self/status >$F/signals", 10),
	    CHILD_DONE);
	pthread_sigmask(SIG_SETMASK, &before, NULL);
	unsigned long blocked = 1, ignored = 1;
	assert_int_equal(
	    sscanf(file_text("signals"), "SigBlk: %lx SigIgn: %lx", &blocked, &ignored),
	    2);
	assert_int_equal(blocked, 0);
	/* 32 and 33 are glibc's own: posix_spawn has no way to leave them. */
	assert_int_equal(ignored & ~0x180000000UL, 0);
}

static void
it_leads_a_session_of_its_own(void **state)
{
	(void)state;
	assert_int_equal(run_script("echo $$ >$F/pid; "
				    "cut -d' ' -f5,6 /proc/$$/stat >$F/ids",
			     10),
	    CHILD_DONE);
	long pid = strtol(file_text("pid"), NULL, 10), group, session;
	assert_int_equal(sscanf(file_text("ids"), "%ld %ld", &group, &session), 2);
	assert_int_equal(group, pid);
	assert_int_equal(session, pid);
}

static void
a_number_is_told_with_the_last_line(void **state)
{
	(void)state;
	assert_int_equal(
	    run_script("echo first; echo 'no \033[31mroute' >&2; echo; exit 3", 10),
	    CHILD_FAILED);
	assert_string_equal(words, "ended with 3: no ?[31mroute");
	assert_int_equal(run_script("printf 'no newline'; exit 1", 10), CHILD_FAILED);
	assert_string_equal(words, "ended with 1: no newline");
	assert_int_equal(run_script("kill -SEGV $$", 10), CHILD_FAILED);
	assert_string_equal(words, "was ended by signal 11");
}

static void
a_megabyte_of_output_is_read_and_forgotten(void **state)
{
	(void)state;
	assert_int_equal(
	    run_script(
		"head -c 1000000 /dev/zero | tr '\\0' x; echo; echo end; exit 4", 10),
	    CHILD_FAILED);
	assert_string_equal(words, "ended with 4: end");
}

static void
output_without_end_stops_with_its_time(void **state)
{
	(void)state;
	assert_int_equal(run_script("exec yes", 0.5), CHILD_LATE);
	assert_string_equal(words, "did not end within 0.5 s and was ended: y");
	assert_true(took_s < 0.5 + CHILD_GRACE_S);
}

static void
what_is_not_there_or_no_program_is_said(void **state)
{
	char path[96];

	(void)state;
	snprintf(path, sizeof path, "%s/none", folder);
	assert_int_equal(run_as(path, "", 1), CHILD_FAILED);
	assert_string_equal(words, "could not be run: No such file or directory");
	write_script("exit 0");
	assert_int_equal(chmod(script, 0600), 0);
	assert_int_equal(run_as(script, "", 1), CHILD_FAILED);
	assert_string_equal(words, "could not be run: Permission denied");
	FILE *file = fopen(script, "w");
	assert_non_null(file);
	fputs("echo no interpreter is told\n", file);
	assert_int_equal(fclose(file), 0);
	assert_int_equal(chmod(script, 0755), 0);
	assert_int_equal(run_as(script, "", 1), CHILD_FAILED);
	assert_string_equal(words,
	    "could not be run: Exec format error; begin it with a line such as "
	    "#!/bin/sh");
}

static void
one_that_hangs_is_ended_with_its_children(void **state)
{
	(void)state;
	assert_int_equal(
	    run_script("sleep 60 & echo $! >$F/child; echo $$ >$F/pid; wait", 0.5),
	    CHILD_LATE);
	assert_true(took_s >= 0.5 && took_s < 0.5 + CHILD_GRACE_S);
	assert_gone("pid");
	assert_gone("child");
}

static void
one_that_ignores_sigterm_is_killed(void **state)
{
	(void)state;
	assert_int_equal(
	    run_script("trap '' TERM; sleep 60 & echo $! >$F/child; echo $$ >$F/pid; "
		       "while :; do sleep 1; done",
		0.5),
	    CHILD_LATE);
	assert_true(took_s >= 0.5 + CHILD_GRACE_S && took_s < 1.5 + CHILD_GRACE_S);
	assert_gone("pid");
	assert_gone("child");
}

static void
what_it_leaves_behind_is_ended(void **state)
{
	(void)state;
	/* It holds the output open, too. */
	assert_int_equal(
	    run_script("trap '' TERM; sleep 60 & echo $! >$F/child", 10), CHILD_DONE);
	assert_true(took_s < 5);
	assert_gone("child");
}

static void
it_stops_when_somebody_wants_it_to(void **state)
{
	(void)state;
	stop_fd = eventfd(1, EFD_CLOEXEC);
	assert_int_equal(run_script("exec sleep 60", 50), CHILD_STOPPED);
	assert_string_equal(words, "was ended as evensoakd stopped");
	assert_true(took_s >= 0.2 && took_s < 0.2 + CHILD_GRACE_S);
	assert_int_equal(run_script("exit 0", 50), CHILD_DONE);
	close(stop_fd);
	stop_fd = -1;
}

static void
no_child_and_no_descriptor_is_left(void **state)
{
	int before = open("/dev/null", O_RDONLY | O_CLOEXEC), after;

	(void)state;
	close(before);
	for (int i = 0; i < 20; i++)
		assert_int_equal(run_script("cat >/dev/null; echo x", 10), CHILD_DONE);
	after = open("/dev/null", O_RDONLY | O_CLOEXEC);
	assert_int_equal(after, before);
	close(after);
	assert_int_equal(waitpid(-1, NULL, WNOHANG), -1);
	assert_int_equal(errno, ECHILD);
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(it_gets_its_input_and_nothing_else),
	    cmocka_unit_test(a_program_that_reads_nothing_ends_well),
	    cmocka_unit_test(no_descriptor_but_three_is_inherited),
	    cmocka_unit_test(no_signal_is_blocked_or_ignored),
	    cmocka_unit_test(it_leads_a_session_of_its_own),
	    cmocka_unit_test(a_number_is_told_with_the_last_line),
	    cmocka_unit_test(a_megabyte_of_output_is_read_and_forgotten),
	    cmocka_unit_test(output_without_end_stops_with_its_time),
	    cmocka_unit_test(what_is_not_there_or_no_program_is_said),
	    cmocka_unit_test(one_that_hangs_is_ended_with_its_children),
	    cmocka_unit_test(one_that_ignores_sigterm_is_killed),
	    cmocka_unit_test(what_it_leaves_behind_is_ended),
	    cmocka_unit_test(it_stops_when_somebody_wants_it_to),
	    cmocka_unit_test(no_child_and_no_descriptor_is_left),
	};
	return cmocka_run_group_tests(tests, set_up, tear_down);
}
