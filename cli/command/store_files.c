/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/store_files.h"

#include <errno.h>
#include <fcntl.h>
#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "conf/settings.h"
#include "daemon/base/error.h"
#include "daemon/base/text.h"
#include "daemon/publish/secret.h"

struct telling {
	void (*take)(void *arg, bool wrong, const char *sentence);
	void *arg;
	const struct store_settings *store;
};

static void
tell(const struct telling *telling, bool wrong, const char *why)
{
	char sentence[1024];

	snprintf(sentence, sizeof sentence, "store %s%s: %s", telling->store->name,
	    wrong ? " will not be reached" : "", why);
	telling->take(telling->arg, wrong, sentence);
}

/* Whether it is there for others, or may be: then it is told. */
static bool
is_shut_to_us(const struct telling *telling, const char *path)
{
	char why[SETTINGS_PATH + 128];

	if (access(path, R_OK) == 0 || errno != EACCES)
		return false;
	snprintf(why, sizeof why,
	    "this account may not read '%s', so that nobody has looked at it; that of "
	    "the service may",
	    path);
	tell(telling, false, why);
	return true;
}

/* What root can read, the service may not. */
static void
tell_roots_own(const struct telling *telling, const char *path)
{
	char why[SETTINGS_PATH + 160];
	struct stat stat_of;

	if (geteuid() != 0 || stat(path, &stat_of) != 0 || stat_of.st_uid != 0)
		return;
	if ((stat_of.st_mode & S_IROTH) != 0 ||
	    (stat_of.st_gid != 0 && (stat_of.st_mode & S_IRGRP) != 0))
		return;
	snprintf(why, sizeof why,
	    "root alone can read '%s', and evensoakd does not run as root: chgrp it "
	    "to the service's group and chmod it to 640",
	    path);
	tell(telling, false, why);
}

static void
tell_secret(const struct telling *telling)
{
	const struct store_settings *store = telling->store;
	const char *path =
	    *store->token_file ? store->token_file : store->password_file;
	/* Nobody changes the environment. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	const char *folder = getenv("CREDENTIALS_DIRECTORY");
	char secret[SECRET_BYTES];
	struct error error;

	if (*path ? is_shut_to_us(telling, path)
		  : *store->credential == '\0' || folder == NULL || *folder == '\0')
		return;
	int code = secret_read(path, store->credential, secret, &error);
	explicit_bzero(secret, sizeof secret);
	if (code != 0)
		tell(telling, true, error.text);
	else if (*path)
		tell_roots_own(telling, path);
}

/* As libcurl takes them: PEM. */
static bool
has_certificate(FILE *file)
{
	char line[256];

	while (fgets(line, sizeof line, file))
		if (strncmp(line, "-----BEGIN ", 11) == 0 &&
		    strstr(line, "CERTIFICATE-----"))
			return true;
	return false;
}

static void
tell_certificate(const struct telling *telling)
{
	const char *path = telling->store->ca_file;
	char why[SETTINGS_PATH + 160] = "";

	if (*path == '\0' || is_shut_to_us(telling, path))
		return;
	/* Does not wait for the other end of a pipe. */
	int fd = open(path, O_RDONLY | O_CLOEXEC | O_NONBLOCK | O_NOCTTY);
	FILE *file = fd >= 0 ? fdopen(fd, "r") : NULL;
	if (!file)
		snprintf(why, sizeof why, "open 'ca_file' '%s': %s", path,
		    strerrordesc_np(errno));
	else if (!has_certificate(file))
		snprintf(why, sizeof why,
		    "'ca_file' '%s' has no certificate in it: it begins with "
		    "-----BEGIN CERTIFICATE-----",
		    path);
	if (file)
		fclose(file);
	else if (fd >= 0)
		close(fd);
	if (*why)
		tell(telling, true, why);
	else
		tell_roots_own(telling, path);
}

void
store_files_tell(const struct settings *settings,
    void (*take)(void *arg, bool wrong, const char *sentence), void *arg)
{
	for (size_t i = 0; i < settings->store_count; i++) {
		const struct telling telling = {take, arg, &settings->stores[i]};

		tell_secret(&telling);
		tell_certificate(&telling);
	}
}

static void
take_verdict(void *arg, bool wrong, const char *sentence)
{
	bool *good = arg;

	(void)sentence;
	*good = *good && !wrong;
}

bool
store_files_will_do(const struct settings *settings)
{
	bool good = true;

	store_files_tell(settings, take_verdict, &good);
	return good;
}
