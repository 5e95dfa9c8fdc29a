/* SPDX-License-Identifier: GPL-3.0-or-later */
/*
 * What a character takes on a serial line, and the silence between two frames.  Pure.
 */
#ifndef DAEMON_FIELDBUS_CHARACTER_H
#define DAEMON_FIELDBUS_CHARACTER_H

struct bus_settings;

/* A start bit, eight, parity if there is one, stop bits. */
double character_s(const struct bus_settings *bus);

/* 3.5 characters, and 1.75 ms above 19200 baud: Modbus over Serial Line V1.02, 2.5.1.1. */
double character_silence_s(const struct bus_settings *bus);

#endif
