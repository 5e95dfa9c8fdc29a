/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * Where a command finds a material by its name: in the set-up, in a file of materials
 * alone, or among those that came with the program.
 */
#ifndef CLI_COMMAND_MATERIAL_SOURCE_H
#define CLI_COMMAND_MATERIAL_SOURCE_H

#include "cli/command/session.h"

/*
 * Calls `work` with the set-up that --config or --ledger names; without them, with that
 * of the installed service; without that too, with the materials that came with the
 * program.  --config may name a file of [material NAME] sections alone.  With
 * --material not given, session->settings may be NULL.  What `work` says, or
 * COMMAND_CANNOT after the reason was told.
 */
enum command_exit material_source_run(const struct call *call,
    enum command_exit (*work)(const struct call *call, const struct session *session));

/* The one that --material names; COMMAND_USAGE after telling when there is none. */
enum command_exit material_find(const struct call *call, const struct session *session,
    const struct material_settings **material);

#endif
