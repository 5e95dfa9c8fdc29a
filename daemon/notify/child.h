/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Runs one program to its end, and lets nothing of it stay.
 *
 * No shell: the file itself is executed, without arguments, in "/", with the environment
 * that it is given and no other; no signal is blocked, all are as by default.  It has three
 * descriptors: its input is a file of its own with the text (so that nobody waits for it
 * to read that), its output and errors are read here and forgotten but for their last
 * line.  It leads a session and a process group of its own.  When its time is over, or
 * somebody wants it to stop, the group gets SIGTERM and CHILD_GRACE_S later SIGKILL; when
 * it has ended, what is left of the group gets SIGKILL.  What leaves the group on purpose
 * is not followed: under systemd it ends with the unit.
 *
 * Blocks until the end, for a thread of its own; several at once do not know of each
 * other.  Seconds are the system's, at any rate of the clock.
 */
#ifndef DAEMON_NOTIFY_CHILD_H
#define DAEMON_NOTIFY_CHILD_H

#define CHILD_GRACE_S 2.0

enum { CHILD_WORDS = 400 };

struct child_order {
	const char *program;      /* an absolute path */
	char *const *environment; /* "NAME=value"; NULL at the end */
	const char *input;
	double timeout_s;
	int stop_fd; /* readable: it is to stop, in stop_s; -1: nobody stops it */
	double stop_s;
};

enum child_end {
	CHILD_DONE,    /* with 0 */
	CHILD_FAILED,  /* with another number, by a signal, or it could not be run */
	CHILD_LATE,    /* ended here: its time was over */
	CHILD_STOPPED, /* ended here: somebody wanted it to stop */
};

/* How it ended; `words` say so for people, with the last line that it wrote: "ended with
 * 3: no route to host". */
enum child_end child_run(
    const struct child_order *order, char words[static CHILD_WORDS]);

#endif
