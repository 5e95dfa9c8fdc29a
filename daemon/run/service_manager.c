/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/run/service_manager.h"

#include <stddef.h>
#include <stdlib.h>
#include <string.h>
#include <sys/socket.h>
#include <sys/un.h>
#include <unistd.h>

void
service_manager_tell(const char *state)
{
	/* Nobody changes the environment. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	const char *path = getenv("NOTIFY_SOCKET");
	struct sockaddr_un address = {.sun_family = AF_UNIX};
	size_t length = path != NULL ? strlen(path) : 0;
	int fd;

	if (length < 2 || length >= sizeof(address.sun_path))
		return;
	memcpy(address.sun_path, path, length);
	if (path[0] == '@')
		address.sun_path[0] = '\0'; /* an abstract socket */
	fd = socket(AF_UNIX, SOCK_DGRAM | SOCK_CLOEXEC, 0);
	if (fd < 0)
		return;
	(void)sendto(fd, state, strlen(state), MSG_NOSIGNAL | MSG_DONTWAIT,
	    (const struct sockaddr *)&address,
	    (socklen_t)(offsetof(struct sockaddr_un, sun_path) + length));
	close(fd);
}
