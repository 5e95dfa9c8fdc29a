/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Tells systemd how the service is, by one datagram to $NOTIFY_SOCKET; does nothing
 * when there is none.  Never blocks.  (Protocol: sd_notify(3).)
 */
#ifndef DAEMON_RUN_SERVICE_MANAGER_H
#define DAEMON_RUN_SERVICE_MANAGER_H

/* "READY=1", "STOPPING=1", "WATCHDOG=1", "STATUS=..." */
void service_manager_tell(const char *state);

#endif
