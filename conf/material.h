/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What the figures of a material mean together.  For one thread; only within conf/.
 */
#ifndef CONF_MATERIAL_H
#define CONF_MATERIAL_H

struct draft;
struct material_settings;
struct part;

/* Of one material, whose part may be bad: a set of figures without its structure, or one
 * of which a part is missing; melting that is missing, or that there cannot be. */
void material_check(struct draft *draft, struct part *part);

/* Its hash, from its figures. */
void material_sign(struct material_settings *material);

#endif
