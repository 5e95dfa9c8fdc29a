/* SPDX-License-Identifier: GPL-3.0-or-later */
/* How much there can be of what stands in a configuration. */
#ifndef CONF_SETTINGS_SIZES_H
#define CONF_SETTINGS_SIZES_H

enum {
	SETTINGS_NAME = 48,     /* bytes of any name, NUL included */
	SETTINGS_PATH = 512,    /* bytes of any path or URL */
	SETTINGS_SENTINELS = 4, /* raw values a channel that mean "no value" */
	SETTINGS_HOLES = 16,    /* register ranges a device that must not be read */
	SETTINGS_PROBLEMS = 50, /* mistakes reported before giving up */
	SETTINGS_CHANNELS = 4096,
	SETTINGS_DEVICES = 256,
	SETTINGS_GROUPS = 8, /* a device: periods at which its channels are read */
	SETTINGS_LINES = 64,
	SETTINGS_DATES = 64,      /* of a shift, and holidays */
	SETTINGS_POSITIONS = 256, /* the highest of a zone or a tool sensor */
	SETTINGS_STATIONS = 8,    /* a line */
	SETTINGS_SIDES = 2,       /* of a shuttle */
};

#endif
