/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/notify/child.h"

#include <errno.h>
#include <fcntl.h>
#include <math.h>
#include <poll.h>
#include <signal.h>
#include <spawn.h>
#include <stdbool.h>
#include <stdint.h>
#include <stdio.h>
#include <string.h>
#include <sys/mman.h>
#include <sys/pidfd.h>
#include <sys/wait.h>
#include <unistd.h>

#include "daemon/base/clock.h"
#include "daemon/base/text.h"
#include "daemon/base/utf8.h"

/* What is being done about it. */
enum phase { PHASE_RUNS, PHASE_ASKED, PHASE_KILLED, PHASE_GIVEN_UP };

struct child {
	const struct child_order *order;
	pid_t pid;
	int pid_fd, output; /* -1: none, or not any more */
	bool stops;         /* stop_fd was seen */
	enum phase phase;
	enum child_end end; /* if it is ended here */
	int64_t until_ns;   /* of the phase */
	char line[200];     /* that it is writing */
	size_t length;
	char last[200]; /* that it wrote, and that was not empty */
};

static int64_t
now_ns(void)
{
	return clock_system_ns(clock_mono().ns);
}

static int64_t
after_s(double system_s)
{
	return now_ns() + (int64_t)(system_s * 1e9);
}

/* --- starting -------------------------------------------------------------------------- */

/* Away from 0 to 2, which the actions below write; takes `fd`. */
static int
lift(int fd)
{
	int lifted = fd;

	if (fd >= 0 && fd <= STDERR_FILENO) {
		lifted = fcntl(fd, F_DUPFD_CLOEXEC, STDERR_FILENO + 1);
		close(fd);
	}
	return lifted;
}

/* A file in memory that holds the text; -1 with errno. */
static int
make_input(const char *text)
{
	size_t length = strlen(text);
	int fd = lift(memfd_create("evensoak-notice", MFD_CLOEXEC));

	if (fd < 0)
		return -1;
	if (write(fd, text, length) == (ssize_t)length && lseek(fd, 0, SEEK_SET) == 0)
		return fd;
	close(fd);
	errno = ENOSPC;
	return -1;
}

/* Returns what failed as errno has it, else 0. */
static int
set_up(posix_spawn_file_actions_t *actions, posix_spawnattr_t *attributes, int input,
    int output)
{
	sigset_t none, all;
	int code;

	sigemptyset(&none);
	sigfillset(&all);
	(void)((code = posix_spawn_file_actions_adddup2(actions, input, 0)) ||
	       (code = posix_spawn_file_actions_adddup2(actions, output, 1)) ||
	       (code = posix_spawn_file_actions_adddup2(actions, output, 2)) ||
	       (code = posix_spawn_file_actions_addclosefrom_np(actions, 3)) ||
	       (code = posix_spawn_file_actions_addchdir_np(actions, "/")) ||
	       (code = posix_spawnattr_setsigmask(attributes, &none)) ||
	       (code = posix_spawnattr_setsigdefault(attributes, &all)) ||
	       (code = posix_spawnattr_setflags(
		    attributes, (short)(POSIX_SPAWN_SETSIGMASK | POSIX_SPAWN_SETSIGDEF |
					POSIX_SPAWN_SETSID))));
	return code;
}

static int
spawn(struct child *child, int input, int output)
{
	char program[] = "notify", *arguments[] = {program, NULL};
	posix_spawn_file_actions_t actions;
	posix_spawnattr_t attributes;
	int code = posix_spawn_file_actions_init(&actions);

	if (code != 0)
		return code;
	code = posix_spawnattr_init(&attributes);
	if (code == 0) {
		code = set_up(&actions, &attributes, input, output);
		if (code == 0)
			code = posix_spawn(&child->pid, child->order->program, &actions,
			    &attributes, arguments, child->order->environment);
		posix_spawnattr_destroy(&attributes);
	}
	posix_spawn_file_actions_destroy(&actions);
	return code;
}

static int
start(struct child *child)
{
	int ends[2] = {-1, -1}, input = make_input(child->order->input), code = errno;

	if (input < 0)
		return code;
	code = pipe2(ends, O_CLOEXEC) == 0 ? 0 : errno;
	if (code == 0) {
		child->output = lift(ends[0]);
		ends[1] = lift(ends[1]);
		(void)fcntl(child->output, F_SETFL, O_NONBLOCK);
		code = child->output < 0 || ends[1] < 0 ? EMFILE
		                                        : spawn(child, input, ends[1]);
		if (ends[1] >= 0)
			close(ends[1]);
	}
	close(input);
	return code;
}

/* --- what it writes ---------------------------------------------------------------------- */

static void
end_line(struct child *child)
{
	child->line[child->length] = '\0';
	child->length = 0;
	if (child->line[strspn(child->line, " \t\r")] == '\0')
		return;
	text_copy(child->last, sizeof child->last, child->line);
	utf8_make_plain(child->last);
}

/* A piece of it; false when there is none for now. */
static bool
read_output(struct child *child)
{
	char bytes[4096];
	ssize_t count;

	if (child->output < 0)
		return false;
	count = read(child->output, bytes, sizeof bytes);
	if (count < 0 && (errno == EAGAIN || errno == EINTR))
		return false;
	if (count <= 0) {
		close(child->output);
		child->output = -1;
		return false;
	}
	for (ssize_t i = 0; i < count; i++)
		if (bytes[i] == '\n' || bytes[i] == '\0')
			end_line(child);
		else if (child->length < sizeof child->line - 1)
			child->line[child->length++] = bytes[i];
	return true;
}

/* --- until it ends ------------------------------------------------------------------------ */

static void
next_phase(struct child *child)
{
	switch (child->phase) {
	case PHASE_RUNS:
		child->end = child->stops ? CHILD_STOPPED : CHILD_LATE;
		child->phase = PHASE_ASKED;
		(void)kill(-child->pid, SIGTERM);
		break;
	case PHASE_ASKED:
		child->phase = PHASE_KILLED;
		(void)kill(-child->pid, SIGKILL);
		break;
	case PHASE_KILLED:
	case PHASE_GIVEN_UP:
		child->phase = PHASE_GIVEN_UP;
		break;
	}
	child->until_ns = after_s(CHILD_GRACE_S);
}

static void
take_stop(struct child *child)
{
	int64_t until_ns = after_s(child->order->stop_s);

	child->stops = true;
	if (child->phase == PHASE_RUNS && until_ns < child->until_ns)
		child->until_ns = until_ns;
}

/* True once the program itself has ended; what it started may go on. */
static bool
step(struct child *child)
{
	int64_t left_ns = child->until_ns - now_ns();
	struct pollfd fds[] = {
	    {.fd = child->pid_fd, .events = POLLIN},
	    {.fd = child->output, .events = POLLIN},
	    {.fd = child->stops ? -1 : child->order->stop_fd, .events = POLLIN},
	};

	if (left_ns <= 0) {
		next_phase(child);
		return false;
	}
	if (poll(fds, 3, (int)ceil((double)left_ns * 1e-6)) <= 0)
		return false;
	if (fds[1].revents != 0)
		(void)read_output(child);
	if (fds[2].revents != 0)
		take_stop(child);
	return fds[0].revents != 0;
}

/* What is left of it goes, while its number is still taken. */
static void
clear_up(struct child *child, int *status)
{
	*status = 0;
	(void)kill(-child->pid, SIGKILL);
	for (int i = 0; i < 64 && read_output(child); i++)
		;
	end_line(child);
	while (waitpid(child->pid, status,
		   child->phase == PHASE_GIVEN_UP ? WNOHANG : 0) < 0 &&
	       errno == EINTR)
		;
	if (child->output >= 0)
		close(child->output);
	if (child->pid_fd >= 0)
		close(child->pid_fd);
}

/* --- in words ----------------------------------------------------------------------------- */

static enum child_end
say_end(const struct child *child, int status, char words[static CHILD_WORDS])
{
	enum child_end end = child->end;
	char how[96];

	if (child->phase == PHASE_GIVEN_UP)
		snprintf(how, sizeof how, "does not end, not even killed");
	else if (end == CHILD_LATE)
		snprintf(how, sizeof how, "did not end within %g s and was ended",
		    child->order->timeout_s);
	else if (end == CHILD_STOPPED)
		snprintf(how, sizeof how, "was ended as evensoakd stopped");
	else if (WIFSIGNALED(status))
		snprintf(how, sizeof how, "was ended by signal %d", WTERMSIG(status));
	else
		snprintf(how, sizeof how, "ended with %d", WEXITSTATUS(status));
	if (end == CHILD_DONE && status != 0)
		end = CHILD_FAILED;
	snprintf(
	    words, CHILD_WORDS, "%s%s%s", how, *child->last ? ": " : "", child->last);
	return end;
}

static enum child_end
say_not_run(int code, char words[static CHILD_WORDS])
{
	snprintf(words, CHILD_WORDS, "could not be run: %s%s", strerrordesc_np(code),
	    code == ENOEXEC ? "; begin it with a line such as #!/bin/sh" : "");
	return CHILD_FAILED;
}

enum child_end
child_run(const struct child_order *order, char words[static CHILD_WORDS])
{
	struct child child = {.order = order, .output = -1, .end = CHILD_DONE};
	int status, code = start(&child);

	if (code != 0) {
		if (child.output >= 0)
			close(child.output);
		return say_not_run(code, words);
	}
	child.until_ns = after_s(order->timeout_s);
	child.pid_fd = pidfd_open(child.pid, 0);
	code = child.pid_fd < 0 ? errno : 0;
	while (code == 0 && child.phase != PHASE_GIVEN_UP && !step(&child))
		;
	clear_up(&child, &status);
	return code != 0 ? say_not_run(code, words) : say_end(&child, status, words);
}
