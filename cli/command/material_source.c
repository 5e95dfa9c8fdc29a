/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "cli/command/material_source.h"

#include <stdio.h>
#include <stdlib.h>
#include <string.h>
#include <unistd.h>

#include "daemon/base/error.h"
#include "daemon/base/text.h"

/* Of the materials that came with the program, seen from the folder it stands in:
 * installed, and in the tree where it was built (build/, build/MODE/). */
static const char *const shipped[] = {"../share/evensoak/examples/materials.ini",
    "../conf/materials.ini", "../../conf/materials.ini"};

/* The folder of the running program, with the slash; false when it is not known. */
static bool
find_own_folder(char folder[static SETTINGS_PATH])
{
	ssize_t length = readlink("/proc/self/exe", folder, SETTINGS_PATH);
	char *slash;

	if (length <= 0 || length >= SETTINGS_PATH)
		return false;
	folder[length] = '\0';
	slash = strrchr(folder, '/');
	if (!slash)
		return false;
	slash[1] = '\0';
	return true;
}

static bool
find_shipped(char path[static SETTINGS_PATH])
{
	char folder[SETTINGS_PATH], whole[2 * SETTINGS_PATH];

	if (!find_own_folder(folder))
		return false;
	for (size_t i = 0; i < sizeof shipped / sizeof shipped[0]; i++) {
		snprintf(whole, sizeof whole, "%s%s", folder, shipped[i]);
		if (access(whole, R_OK) == 0 && text_copy(path, SETTINGS_PATH, whole))
			return true;
	}
	return false;
}

/* Materials alone; NULL when `path` holds anything else, or when they have mistakes, which
 * are told if `tell`. */
static struct settings *
load_materials(const struct call *call, const char *path, bool tell)
{
	struct problems *problems = calloc(1, sizeof *problems);
	struct settings *settings = NULL;

	if (!problems)
		return NULL;
	settings = settings_load_materials(path, problems);
	if (!settings && tell)
		session_tell_problems(call, problems);
	free(problems);
	return settings;
}

static enum command_exit
run_with_shipped(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session))
{
	struct session session = {0};
	char path[SETTINGS_PATH];
	struct error error;

	if (!find_shipped(path)) {
		error_set(&error, ERROR_NOT_FOUND,
		    "there is neither '%s' nor the file of materials that comes with "
		    "the program: say --config FILE, or --diffusivity M2_PER_S",
		    SESSION_CONFIG);
		return command_cannot(call, &error);
	}
	session.settings = load_materials(call, path, true);
	if (!session.settings)
		return COMMAND_CANNOT;
	enum command_exit code = work(call, &session);
	settings_free(session.settings);
	return code;
}

/* Without a material the set-up tells the unit to show alone: one that is not there, or has
 * mistakes, is done without. */
static enum command_exit
run_without(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session))
{
	struct problems *problems = calloc(1, sizeof *problems);
	struct session session = {0};

	if (problems)
		session.settings = settings_load(SESSION_CONFIG, problems);
	free(problems);
	enum command_exit code = work(call, &session);
	settings_free(session.settings);
	return code;
}

enum command_exit
material_source_run(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session))
{
	const char *config = call->option[OPTION_CONFIG];
	struct session session = {0};

	if (!config && !call->option[OPTION_LEDGER]) {
		if (!call->option[OPTION_MATERIAL])
			return run_without(call, work);
		if (access(SESSION_CONFIG, F_OK) != 0)
			return run_with_shipped(call, work);
	}
	if (config)
		session.settings = load_materials(call, config, false);
	if (!session.settings)
		return session_run_set_up(call, work);
	enum command_exit code = work(call, &session);
	settings_free(session.settings);
	return code;
}

/* "; did you mean 'ABS'?", or which there are. */
static void
describe_others(const struct settings *settings, const char *name, struct text *words)
{
	const char **names = calloc(settings->material_count + 1, sizeof *names);
	const char *near = NULL;

	for (size_t i = 0; names && i < settings->material_count; i++)
		names[i] = settings->materials[i].name;
	if (names)
		near = text_nearest(name, names, settings->material_count);
	free(names);
	if (near) {
		text_printf(words, "; did you mean '%s'?", near);
		return;
	}
	for (size_t i = 0; i < settings->material_count; i++)
		text_printf(words, "%s%s", i > 0 ? ", " : ": it has ",
		    settings->materials[i].name);
}

/* As it is written, or else the first that differs in capitals alone. */
static const struct material_settings *
find_by_name(const struct settings *settings, const char *name)
{
	const struct material_settings *exact = settings_material(settings, name);

	for (size_t i = 0; !exact && i < settings->material_count; i++)
		if (strcasecmp(settings->materials[i].name, name) == 0)
			exact = &settings->materials[i];
	return exact;
}

enum command_exit
material_find(const struct call *call, const struct session *session,
    const struct material_settings **material)
{
	const char *name = call->option[OPTION_MATERIAL];
	const struct settings *settings = session->settings;
	char none[SETTINGS_PATH] = "";
	struct text words;

	*material = settings ? find_by_name(settings, name) : NULL;
	if (*material)
		return COMMAND_DONE;
	text_init(&words, 4096);
	if (settings && settings->material_count > 0)
		describe_others(settings, name, &words);
	else if (find_shipped(none))
		text_printf(&words,
		    ": it has no [material] at all; materials to begin with are in "
		    "'%s'",
		    none);
	enum command_exit code = command_usage(call,
	    "there is no material '%s' in '%s'%s", name,
	    settings ? settings->path : SESSION_CONFIG, words.bytes ? words.bytes : "");
	text_release(&words);
	return code;
}
