/* SPDX-License-Identifier: GPL-3.0-or-later */
/* The left panel of the soak picture, and what both of them share.  For soak_picture
 * alone. */
#ifndef CLI_PICTURE_SOAK_PANEL_H
#define CLI_PICTURE_SOAK_PANEL_H

#include "cli/picture/axes.h"
#include "cli/picture/soak_picture.h"

#define PANEL_INK 0x303030
#define PANEL_FAINT 0x606060
enum { PANEL_LABEL_SIZE = 8 };
#define PANEL_LABEL_GAP 9.0 /* from one label to the next above it */

void panel_heading(
    struct canvas *canvas, const struct canvas_box *box, const char *heading);

/* The ground of a panel, the forming window shaded where it is known. */
void panel_window(
    struct canvas *canvas, const struct axes *axes, const struct soak_picture *picture);

/* Whether the moment is after the end of the heat. */
bool panel_is_way(const struct soak_picture *picture, size_t moment);

/* Through the thickness. */
void panel_profiles(struct canvas *canvas, const struct soak_picture *picture,
    const struct axis *temperature, const char *y_label);

#endif
