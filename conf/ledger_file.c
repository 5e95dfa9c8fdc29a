/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/ledger_file.h"

#include <stdio.h>
#include <string.h>
#include <sys/stat.h>

#include "conf/draft.h"

void
ledger_file_complete(struct draft *draft)
{
	struct part *part = NULL;

	while ((part = draft_next(draft, SECTION_LEDGER, part)) != NULL)
		part_complete_path(draft, part, "path", part->as.ledger.path);
}

static bool
is_same_inode(const char *one, const char *other)
{
	struct stat a, b;

	return stat(one, &a) == 0 && stat(other, &b) == 0 && a.st_dev == b.st_dev &&
	       a.st_ino == b.st_ino;
}

/* By what is there, or, as the ledger may not be there yet, by the last part of the paths
 * and the folders that it is in. */
static bool
is_same_file(const char *one, const char *other)
{
	const char *leaf = strrchr(one, '/'), *other_leaf = strrchr(other, '/');
	char folder[SETTINGS_PATH], other_folder[SETTINGS_PATH];

	if (is_same_inode(one, other))
		return true;
	if (strcmp(leaf ? leaf + 1 : one, other_leaf ? other_leaf + 1 : other) != 0)
		return false;
	snprintf(folder, sizeof folder, "%.*s.", leaf ? (int)(leaf + 1 - one) : 0, one);
	snprintf(other_folder, sizeof other_folder, "%.*s.",
	    other_leaf ? (int)(other_leaf + 1 - other) : 0, other);
	return is_same_inode(folder, other_folder);
}

static bool
is_ledger(const char *ledger, const char *path, bool on_disk)
{
	/* SQLite's log and the index of it, which carries locks as well. */
	static const char *const suffixes[] = {"", "-wal", "-shm", "-journal"};
	char file[SETTINGS_PATH + 16];

	for (size_t i = 0; i < sizeof suffixes / sizeof suffixes[0]; i++) {
		snprintf(file, sizeof file, "%s%s", ledger, suffixes[i]);
		if (strcmp(file, path) == 0 || (on_disk && is_same_file(file, path)))
			return true;
	}
	return false;
}

bool
ledger_file_refuse(
    struct draft *draft, struct part *part, const char *setting, const char *path)
{
	const struct part *ledger = draft_next(draft, SECTION_LEDGER, NULL);

	if (*path == '\0' || !part_sound(part, setting) || !ledger ||
	    !part_sound(ledger, "path") ||
	    !is_ledger(ledger->as.ledger.path, path, draft->from_file))
		return true;
	part_refuse(draft, part, setting,
	    "'%s' leads to the ledger, '%s': reading it there would take the locks on "
	    "it "
	    "away, write another file",
	    setting, ledger->as.ledger.path);
	return false;
}
