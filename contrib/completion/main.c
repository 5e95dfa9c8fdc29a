/* SPDX-License-Identifier: GPL-3.0-or-later */
/* completion TEMPLATE: the shell's script that the template and the tables make. */
#include <stddef.h>

#include "contrib/completion/parts.h"

static const struct template_part parts[] = {
    {"commands", part_commands},
    {"value-options", part_value_options},
    {"bash-options", part_bash_options},
    {"bash-values", part_bash_values},
    {"bash-arguments", part_bash_arguments},
    {"bash-daemon", part_bash_daemon},
    {"bash-daemon-files", part_bash_daemon_files},
    {"zsh-commands", part_zsh_commands},
    {"zsh-options", part_zsh_options},
    {"zsh-daemon", part_zsh_daemon},
    {NULL, NULL},
};

int
main(int argc, char *argv[])
{
	return template_main(argc, argv, parts);
}
