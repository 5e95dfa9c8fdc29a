/* SPDX-License-Identifier: GPL-3.0-or-later */
/* One reference run: its features, and what was frozen with them. */
#ifndef CLI_COMMAND_REFERENCE_SHOW_H
#define CLI_COMMAND_REFERENCE_SHOW_H

#include "cli/command/session.h"

/* The second argument is its name.  COMMAND_NO after telling when there is none. */
enum command_exit reference_show(
    const struct call *call, const struct session *session);

#endif
