/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The daemon: options, configuration, signals, watchdog.  Returns the exit code.
 */
#ifndef DAEMON_RUN_SERVICE_H
#define DAEMON_RUN_SERVICE_H

enum service_exit {
	SERVICE_STOPPED = 0,
	SERVICE_USAGE = 2,
	SERVICE_CANNOT = 3,
	SERVICE_CONFIG = 78, /* EX_CONFIG of sysexits.h */
};

int service_run(int argc, char **argv);

#endif
