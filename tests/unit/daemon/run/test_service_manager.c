/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The protocol is that of sd_notify(3): one datagram to the socket that is named, whose
 * name is a path, or begins with @ and is abstract. */
#include <setjmp.h>
#include <stdarg.h>
#include <stddef.h>
#include <stdint.h>

#include <cmocka.h>

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

#include "daemon/run/service_manager.h"

static int
listen_at(const char *name)
{
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	size_t length = strlen(name);
	int fd = socket(AF_UNIX, SOCK_DGRAM, 0);

	memcpy(address.sun_path, name, length);
	if (name[0] == '@')
		address.sun_path[0] = '\0';
	assert_int_equal(
	    bind(fd, (struct sockaddr *)&address,
		(socklen_t)(offsetof(struct sockaddr_un, sun_path) + length)),
	    0);
	return fd;
}

static void
expect(int fd, const char *wanted)
{
	char got[64] = "";

	assert_int_equal(recv(fd, got, sizeof(got) - 1, MSG_DONTWAIT), strlen(wanted));
	assert_string_equal(got, wanted);
}

static void
a_path_gets_the_datagram(void **state)
{
	char folder[] = "/tmp/evensoak-notify-XXXXXX", path[64];
	int fd;

	(void)state;
	assert_non_null(mkdtemp(folder));
	snprintf(path, sizeof(path), "%s/socket", folder);
	fd = listen_at(path);
	setenv("NOTIFY_SOCKET", path, 1);
	service_manager_tell("READY=1");
	expect(fd, "READY=1");
	close(fd);
	service_manager_tell("WATCHDOG=1"); /* nobody listens: no harm */
	unlink(path);
	rmdir(folder);
}

static void
an_abstract_name_gets_it_too(void **state)
{
	char name[64];
	int fd;

	(void)state;
	snprintf(name, sizeof(name), "@evensoak-notify-%ld", (long)getpid());
	fd = listen_at(name);
	setenv("NOTIFY_SOCKET", name, 1);
	service_manager_tell("STOPPING=1");
	expect(fd, "STOPPING=1");
	close(fd);
}

static void
without_the_variable_nothing_happens(void **state)
{
	(void)state;
	unsetenv("NOTIFY_SOCKET");
	service_manager_tell("READY=1");
}

int
main(void)
{
	const struct CMUnitTest tests[] = {
	    cmocka_unit_test(a_path_gets_the_datagram),
	    cmocka_unit_test(an_abstract_name_gets_it_too),
	    cmocka_unit_test(without_the_variable_nothing_happens),
	};

	return cmocka_run_group_tests(tests, NULL, NULL);
}
