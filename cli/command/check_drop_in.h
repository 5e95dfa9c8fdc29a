/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the logger's unit may reach, made of a configuration: a drop-in for systemd that
 * allows the addresses of its devices and stores and its serial ports, and no other.
 */
#ifndef CLI_COMMAND_CHECK_DROP_IN_H
#define CLI_COMMAND_CHECK_DROP_IN_H

struct settings;
struct text;

/*
 * Adds the drop-in to `text`.  An address that is given by name stands for what a name
 * server says at any time: then all addresses stay allowed, which is said there.  A port is
 * allowed by its number, which has to be there for that.
 */
void check_drop_in_add(const struct settings *settings, struct text *text);

#endif
