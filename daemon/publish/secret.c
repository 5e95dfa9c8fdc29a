/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/publish/secret.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "daemon/base/error.h"

/* Whether it may be used: a plain file, and not everybody's. */
static int
check_file(int fd, const char *path, struct error *error)
{
	struct stat stat;

	if (fstat(fd, &stat) != 0 || !S_ISREG(stat.st_mode))
		return error_set(
		    error, ERROR_REFUSED, "secret file '%s' is not a plain file", path);
	if ((stat.st_mode & S_IRWXO) != 0)
		return error_set(error, ERROR_REFUSED,
		    "secret file '%s' is open to everybody (mode %03o); chmod it to "
		    "600, or to 640 where its group is to use it",
		    path, (unsigned)(stat.st_mode & 0777));
	return 0;
}

/* Cuts what was read behind its first line. */
static int
check_line(char *bytes, size_t length, const char *path, struct error *error)
{
	size_t end = strcspn(bytes, "\r\n");

	if (end == SECRET_BYTES - 1)
		return error_set(error, ERROR_REFUSED,
		    "the first line of secret file '%s' is longer than %d bytes", path,
		    SECRET_BYTES - 2);
	if (end == 0)
		return error_set(error, ERROR_REFUSED,
		    "secret file '%s' is empty; write the secret into its first line",
		    path);
	if (end < length && bytes[end] == '\0')
		return error_set(
		    error, ERROR_REFUSED, "secret file '%s' is not text", path);
	bytes[end] = '\0';
	for (size_t i = 0; i < end; i++)
		if ((unsigned char)bytes[i] < ' ' || bytes[i] == 0x7f)
			return error_set(error, ERROR_REFUSED,
			    "secret file '%s' has a control character in its first "
			    "line",
			    path);
	return 0;
}

static int
read_line(int fd, const char *path, char *bytes, struct error *error)
{
	size_t length = 0;
	ssize_t got = 1;

	while (got > 0 && length < SECRET_BYTES - 1) {
		got = read(fd, bytes + length, SECRET_BYTES - 1 - length);
		if (got > 0)
			length += (size_t)got;
		else if (got < 0 && errno == EINTR)
			got = 1;
	}
	if (got < 0)
		return error_set(error, ERROR_REFUSED, "read secret file '%s': %s",
		    path, strerrordesc_np(errno));
	bytes[length] = '\0';
	return check_line(bytes, length, path, error);
}

static int
read_file(const char *path, char *secret, struct error *error)
{
	/* Does not wait for the other end of a pipe. */
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NOCTTY | O_NONBLOCK);
	if (fd < 0)
		return error_set(error, ERROR_REFUSED, "open secret file '%s': %s%s",
		    path, strerrordesc_np(errno),
		    errno == EACCES
			? "; its owner and its group may, see chown and chgrp"
			: "");
	int result = check_file(fd, path, error);
	if (result == 0)
		result = read_line(fd, path, secret, error);
	close(fd);
	return result;
}

/* Where systemd puts it. */
static int
credential_path(const char *credential, char path[static PATH_MAX], struct error *error)
{
	/* Nobody changes the environment. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	const char *folder = getenv("CREDENTIALS_DIRECTORY");

	if (folder == NULL || *folder == '\0')
		return error_set(error, ERROR_REFUSED,
		    "credential '%s' is handed to the service alone, and is not here: "
		    "for "
		    "evensoakd install store-credential.conf, 'systemctl "
		    "daemon-reload', "
		    "restart; a command needs 'token_file' or 'password_file'",
		    credential);
	if (snprintf(path, PATH_MAX, "%s/%s", folder, credential) >= PATH_MAX)
		return error_set(error, ERROR_REFUSED,
		    "CREDENTIALS_DIRECTORY is too long for credential '%s'",
		    credential);
	if (access(path, F_OK) != 0 && errno == ENOENT)
		return error_set(error, ERROR_REFUSED,
		    "there is no credential '%s' in '%s'; write LoadCredential=%s:PATH "
		    "into store-credential.conf, 'systemctl daemon-reload', restart "
		    "evensoakd",
		    credential, folder, credential);
	return 0;
}

int
secret_read(const char *path, const char *credential, char secret[static SECRET_BYTES],
    struct error *error)
{
	char handed[PATH_MAX];
	int result = 0;

	memset(secret, 0, SECRET_BYTES);
	if (*path == '\0') {
		result = credential_path(credential, handed, error);
		path = handed;
	}
	if (result == 0)
		result = read_file(path, secret, error);
	if (result != 0)
		explicit_bzero(secret, SECRET_BYTES);
	return result;
}
