/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/program_file.h"

#include <errno.h>
#include <fcntl.h>
#include <limits.h>
#include <stdlib.h>
#include <string.h>
#include <sys/stat.h>
#include <unistd.h>

#include "conf/draft.h"
#include "daemon/base/error.h"

/* What is judged, and for whom. */
struct judged {
	const char *path;
	bool own;
	struct error *error;
};

/* The system would not say. */
static enum program_verdict
judge_failure(const struct judged *judged, const char *where)
{
	if (errno == ENOENT || errno == ENOTDIR) {
		error_set(judged->error, ERROR_NOT_FOUND,
		    "'%s' is not there: put the program there, or mend 'program' in "
		    "[notify]",
		    where);
		return PROGRAM_WRONG;
	}
	error_set(judged->error, ERROR_IO, "look at '%s': %s%s", where,
	    strerrordesc_np(errno),
	    judged->own ? ""
			: "; so this account cannot tell whether it may be run, that "
			  "of the service may");
	return judged->own ? PROGRAM_WRONG : PROGRAM_DOUBTED;
}

static enum program_verdict
judge_writers(const struct judged *judged, const char *where, const struct stat *is)
{
	if (is->st_mode & S_IWOTH) {
		error_set(judged->error, ERROR_REFUSED,
		    "everybody may write '%s', and so have anything run: chmod go-w it",
		    where);
		return PROGRAM_WRONG;
	}
	if ((is->st_mode & S_IWGRP) && is->st_gid != 0) {
		error_set(judged->error, ERROR_REFUSED,
		    "its group may write '%s', and so have anything run: chmod g-w it, "
		    "or put the program elsewhere",
		    where);
		return PROGRAM_WRONG;
	}
	if (is->st_uid == 0 || (judged->own && is->st_uid == geteuid()))
		return PROGRAM_GOOD;
	error_set(judged->error, ERROR_REFUSED,
	    "'%s' belongs to user number %ld: evensoakd runs only what is root's or "
	    "its "
	    "own user's; chown it to root",
	    where, (long)is->st_uid);
	return judged->own ? PROGRAM_WRONG : PROGRAM_DOUBTED;
}

/* Of a folder or a link on the way, or of the program. */
static enum program_verdict
judge_step(const struct judged *judged, const char *where)
{
	struct stat is;

	if (lstat(where, &is) != 0)
		return judge_failure(judged, where);
	/* Nobody can put another thing in the place of what is not his there. */
	if (S_ISLNK(is.st_mode) || (S_ISDIR(is.st_mode) && (is.st_mode & S_ISVTX)))
		is.st_mode &= ~(mode_t)(S_IWOTH | S_IWGRP);
	return judge_writers(judged, where, &is);
}

/* Every folder and link of an absolute path, and what it leads to. */
static enum program_verdict
judge_way(const struct judged *judged, const char *path)
{
	enum program_verdict worst = judge_step(judged, "/"), next;
	char way[PATH_MAX];
	size_t length = 0;

	while (path[length] != '\0' && worst != PROGRAM_WRONG) {
		length += 1 + strcspn(path + length + 1, "/");
		if (length >= sizeof way)
			break;
		memcpy(way, path, length);
		way[length] = '\0';
		next = judge_step(judged, way);
		if (next > worst)
			worst = next;
	}
	return worst;
}

static enum program_verdict
judge_running(const struct judged *judged, const struct stat *is)
{
	if (!S_ISREG(is->st_mode)) {
		error_set(
		    judged->error, ERROR_INVALID, "'%s' is no file", judged->path);
		return PROGRAM_WRONG;
	}
	bool runs = judged->own
	                ? faccessat(AT_FDCWD, judged->path, X_OK, AT_EACCESS) == 0
	                : (is->st_mode & (S_IXUSR | S_IXGRP | S_IXOTH)) != 0;
	if (!runs) {
		error_set(judged->error, ERROR_REFUSED,
		    "'%s' may not be run%s: chmod 755 it", judged->path,
		    judged->own ? " by the user of the service" : "");
		return PROGRAM_WRONG;
	}
	if (judged->own || (is->st_mode & S_IXOTH) != 0)
		return PROGRAM_GOOD;
	error_set(judged->error, ERROR_REFUSED,
	    "'%s' may not be run by everybody, and this account cannot tell whether "
	    "that "
	    "of the service may: chmod 755 it",
	    judged->path);
	return PROGRAM_DOUBTED;
}

enum program_verdict
program_file_judge(const char *path, bool own, struct error *error)
{
	const struct judged judged = {path, own, error};
	enum program_verdict worst, next;
	struct stat is;
	char *real;

	if (stat(path, &is) != 0)
		return judge_failure(&judged, path);
	worst = judge_running(&judged, &is);
	if (worst != PROGRAM_WRONG && (next = judge_way(&judged, path)) > worst)
		worst = next;
	if (worst == PROGRAM_WRONG)
		return worst;
	real = realpath(path, NULL);
	next = real ? judge_way(&judged, real) : judge_failure(&judged, path);
	free(real);
	return next > worst ? next : worst;
}

void
program_file_check_draft(struct draft *draft)
{
	struct part *part = draft_next(draft, SECTION_NOTIFY, NULL);

	if (part == NULL)
		return;
	if (part_sound(part, "program") && *part->as.notify.program != '/')
		part_refuse(draft, part, "program",
		    "'program' is '%s': write an absolute path without arguments, such "
		    "as /etc/evensoak/notify",
		    part->as.notify.program);
}
