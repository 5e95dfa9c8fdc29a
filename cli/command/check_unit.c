/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/check_unit.h"

#include <dirent.h>
#include <grp.h>
#include <limits.h>
#include <pwd.h>
#include <stdarg.h>
#include <stdbool.h>
#include <stdio.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "cli/command/session.h"
#include "conf/settings.h"

#define STATE "/var/lib/evensoak"
#define DROP_INS "/etc/systemd/system/evensoakd.service.d"
/* The names that the examples have. */
#define EXAMPLE_SITE "pond-works"
#define EXAMPLE_MATERIAL "abs-demo"

enum { GROUPS = 64, LINE = 512 };

struct telling {
	const struct check_unit *unit;
	const struct settings *settings;
	void (*take)(void *arg, const char *sentence);
	void *arg;
};

__attribute__((format(printf, 2, 3))) static void
tell(const struct telling *telling, const char *format, ...)
{
	char sentence[2 * SETTINGS_PATH + 512];
	va_list values;

	va_start(values, format);
	vsnprintf(sentence, sizeof sentence, format, values);
	va_end(values);
	telling->take(telling->arg, sentence);
}

static bool
is_below(const char *path, const char *folder)
{
	size_t length = strlen(folder);

	return strncmp(path, folder, length) == 0 && path[length] == '/';
}

/* --- drop-ins ---------------------------------------------------------------------------- */

static bool
file_sets(const char *path, const char *directive)
{
	char line[LINE];
	bool sets = false;
	FILE *file = fopen(path, "re");

	while (file && !sets && fgets(line, sizeof line, file)) {
		const char *word = line + strspn(line, " \t");
		size_t length = strlen(directive);
		sets = strncmp(word, directive, length) == 0 &&
		       word[length + strspn(word + length, " \t")] == '=';
	}
	if (file)
		fclose(file);
	return sets;
}

/* Whether a drop-in has the directive; what it lets in is not looked at. */
static bool
is_set(const struct check_unit *unit, const char *directive)
{
	DIR *folder = opendir(unit->drop_ins);
	const struct dirent *entry;
	char path[PATH_MAX];
	bool set = false;

	/* The folder is this thread's. NOLINTNEXTLINE(concurrency-mt-unsafe) */
	while (folder && !set && (entry = readdir(folder)) != NULL) {
		const char *end = strrchr(entry->d_name, '.');
		if (!end || strcmp(end, ".conf") != 0)
			continue;
		snprintf(path, sizeof path, "%s/%s", unit->drop_ins, entry->d_name);
		set = file_sets(path, directive);
	}
	if (folder)
		closedir(folder);
	return set;
}

/* --- what it may write, and see -------------------------------------------------------- */

static bool
is_temporary(const char *path)
{
	return is_below(path, "/tmp") || is_below(path, "/var/tmp");
}

static bool
is_at_home(const char *path)
{
	return is_below(path, "/home") || is_below(path, "/root") ||
	       is_below(path, "/run/user");
}

static void
tell_ledger(const struct telling *telling)
{
	const char *ledger = telling->settings->ledger;

	if (*ledger == '\0' || is_below(ledger, STATE))
		return;
	if (is_temporary(ledger))
		tell(telling,
		    "ledger '%s': the service has a %s of its own that is emptied when "
		    "it stops: put the ledger into " STATE,
		    ledger, is_below(ledger, "/tmp") ? "/tmp" : "/var/tmp");
	else if (is_at_home(ledger))
		tell(telling,
		    "ledger '%s': the service sees no home directory: put the ledger "
		    "into " STATE,
		    ledger);
	else if (!is_set(telling->unit, "ReadWritePaths"))
		tell(telling,
		    "ledger '%s': the service can write only into " STATE
		    ": put the ledger there, or allow its folder by ReadWritePaths= in "
		    "a drop-in in %s",
		    ledger, telling->unit->drop_ins);
}

static void
tell_ports(const struct telling *telling)
{
	const struct settings *settings = telling->settings;

	for (size_t i = 0; i < settings->bus_count; i++) {
		if (settings->buses[i].kind != BUS_SERIAL)
			continue;
		if (!is_set(telling->unit, "DeviceAllow"))
			tell(telling,
			    "bus %s: the service sees no serial port until a drop-in "
			    "lets it in, and no file in %s has a DeviceAllow=: "
			    "'evensoak check --drop-in' writes one, its --help tells "
			    "where to",
			    settings->buses[i].name, telling->unit->drop_ins);
		return;
	}
}

/* --- the example ------------------------------------------------------------------------ */

static void
tell_example(const struct telling *telling)
{
	const struct settings *settings = telling->settings;
	bool site = strcmp(settings->site, EXAMPLE_SITE) == 0, material = false;

	for (size_t i = 0; i < settings->material_count; i++)
		material |= strcmp(settings->materials[i].name, EXAMPLE_MATERIAL) == 0;
	if (site || material)
		tell(telling,
		    "the set-up still has the example's %s, and so perhaps its "
		    "recipes, "
		    "tools or limits: parts would be judged by made-up limits",
		    site ? "site '" EXAMPLE_SITE "'"
			 : "material '" EXAMPLE_MATERIAL "'");
}

/* --- what it may read ------------------------------------------------------------------- */

struct account {
	const char *name;
	uid_t user;
	gid_t groups[GROUPS];
	int group_count;
};

static bool
find_account(const char *name, struct account *account)
{
	struct passwd entry, *found = NULL;
	char bytes[4096];

	if (getpwnam_r(name, &entry, bytes, sizeof bytes, &found) != 0 || !found)
		return false;
	account->name = name;
	account->user = found->pw_uid;
	account->group_count = GROUPS;
	if (getgrouplist(name, found->pw_gid, account->groups, &account->group_count) <
	    0)
		account->group_count = GROUPS; /* as many as there is room for */
	return true;
}

/* As the system does, but for access lists: `bits` are the rights as of others, 0 to 7. */
static bool
has_rights(const struct account *account, const struct stat *is, unsigned bits)
{
	if (account->user == 0)
		return true;
	if (is->st_uid == account->user)
		return (is->st_mode >> 6 & bits) == bits;
	for (int i = 0; i < account->group_count; i++)
		if (is->st_gid == account->groups[i])
			return (is->st_mode >> 3 & bits) == bits;
	return (is->st_mode & bits) == bits;
}

static void
tell_file(const struct telling *telling, const struct account *account,
    const char *path, const char *then)
{
	char way[PATH_MAX];
	struct stat is;

	for (const char *at = path; (at = strchr(at, '/')) != NULL; at++) {
		snprintf(way, sizeof way, "%.*s", (int)(at - path), path);
		if (*way == '\0' || stat(way, &is) != 0 || has_rights(account, &is, 1))
			continue;
		tell(telling,
		    "the user %s may not enter the folder '%s' by its owner, group and "
		    "mode, and so not read '%s': %s; chgrp %s and chmod g+x the folder",
		    account->name, way, path, then, account->name);
		return;
	}
	if (stat(path, &is) == 0 && !has_rights(account, &is, 4))
		tell(telling,
		    "the user %s may not read '%s' by its owner, group and mode: %s; "
		    "sudo chgrp %s it, then sudo chmod 640 it",
		    account->name, path, then, account->name);
}

/* Root's alone: told with the store (store_files.h). */
static bool
is_roots_alone(const char *path)
{
	struct stat is;

	return stat(path, &is) == 0 && is.st_uid == 0 && !(is.st_mode & S_IROTH) &&
	       (is.st_gid == 0 || !(is.st_mode & S_IRGRP));
}

static void
tell_files(const struct telling *telling)
{
	static const char refuses[] = "the logger will not start",
			  unreached[] = "its store will not be reached";
	const struct settings *settings = telling->settings;
	struct account account;

	if (!telling->unit->user || !find_account(telling->unit->user, &account))
		return;
	tell_file(telling, &account, settings->path, refuses);
	if (*settings->materials_path)
		tell_file(telling, &account, settings->materials_path, refuses);
	for (size_t i = 0; i < settings->store_count; i++) {
		const struct store_settings *store = &settings->stores[i];
		const char *const paths[] = {
		    store->password_file, store->token_file, store->ca_file};
		for (size_t at = 0; at < sizeof paths / sizeof paths[0]; at++)
			if (*paths[at] && !is_roots_alone(paths[at]))
				tell_file(telling, &account, paths[at], unreached);
	}
}

/* --- all --------------------------------------------------------------------------------- */

void
check_unit_tell(const struct check_unit *unit, const struct settings *settings,
    void (*take)(void *arg, const char *sentence), void *arg)
{
	const struct telling telling = {unit, settings, take, arg};

	if (strcmp(settings->path, unit->config) != 0)
		return;
	tell_files(&telling);
	tell_ledger(&telling);
	tell_ports(&telling);
	tell_example(&telling);
}

void
check_unit_tell_installed(const struct settings *settings,
    void (*take)(void *arg, const char *sentence), void *arg)
{
	const struct check_unit unit = {
	    SESSION_CONFIG, DROP_INS, geteuid() == 0 ? "evensoak" : NULL};

	check_unit_tell(&unit, settings, take, arg);
}
