/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "daemon/fieldbus/character.h"

#include "conf/settings.h"

double
character_s(const struct bus_settings *bus)
{
	int bits = 1 + 8 + (bus->parity != PARITY_NONE) + bus->stop_bits;

	return (double)bits / bus->baud;
}

double
character_silence_s(const struct bus_settings *bus)
{
	return bus->baud > 19200 ? 0.00175 : 3.5 * character_s(bus);
}
