/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The parts of completion scripts that are made from tables. */
#ifndef CONTRIB_COMPLETION_PARTS_H
#define CONTRIB_COMPLETION_PARTS_H

#include "contrib/man/template.h"

template_write part_commands;      /* their names, a line each */
template_write part_value_options; /* options that take a value, a line each */
template_write part_bash_options;  /* a case for each command: its options */
template_write part_bash_values; /* a case for each option with values that are known */
template_write part_bash_arguments; /* a case for each command with such arguments */
template_write part_bash_daemon;    /* evensoakd's options */
template_write
    part_bash_daemon_files;       /* those of them that want a file, as a pattern */
template_write part_zsh_commands; /* name:summary */
template_write part_zsh_options;  /* a case for each command */
template_write part_zsh_daemon;

#endif
