/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * The file of materials that a configuration names.  For one thread; only within conf/.
 */
#ifndef CONF_MATERIALS_H
#define CONF_MATERIALS_H

#include <stdbool.h>

struct bundle;
struct draft;

/*
 * Adds the materials to a draft that is read.  They stand in the bundle; where they do not
 * and `from_file` is true they are read from their file and put there.  What is wrong is
 * noted; false when nothing can be made of it.
 */
bool materials_read(struct draft *draft, struct bundle *bundle, bool from_file);

#endif
