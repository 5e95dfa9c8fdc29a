/* SPDX-License-Identifier: GPL-3.0-or-later */
#include "conf/schema.h"

#include <assert.h>
#include <string.h>

#include "conf/draft.h"
#include "conf/words.h"

static const struct section_traits sections[SECTION_COUNT] = {
    [SECTION_SITE] = {"site", "", true, "the plant"},
    [SECTION_LEDGER] = {"ledger", "", true, "where the shots are kept"},
    [SECTION_STORE] = {"store", "NAME", false,
	"a time-series store that the shots are sent to as well"},
    [SECTION_LINE] = {"line", "NAME", true, "a machine with its loader"},
    [SECTION_BUS] = {"bus", "NAME", false, "a serial line with Modbus devices on it"},
    [SECTION_DEVICE] = {"device", "NAME", false, "a Modbus device of a line"},
    [SECTION_CHANNEL] = {"channel", "DEVICE.NAME", false,
	"a quantity that a device holds, or a row of alike ones"},
    [SECTION_RECIPE] = {"recipe", "NUMBER", false, "a recipe of the machines"},
    [SECTION_MATERIAL] = {"material", "NAME", false, "a sheet material"},
    [SECTION_TOOL] = {"tool", "NAME", false, "a forming tool"},
    [SECTION_SHIFT] = {"shift", "NAME", false, "a shift, in local time"},
    [SECTION_LIMITS] = {"limits", "FEATURE [LABEL]", false,
	"specification limits of a feature; a label tells several apart"},
};

#define AT(member) offsetof(struct part, as.member)
#define BYTES(room) 0, (room)-1
#define ANY 0, 0
#define REQUIRED NULL
#define NOTHING ""
/* a unit and what it is in SI */
#define PLAIN "", 1
#define SECONDS "s", 1
#define MILLISECONDS "ms", 0.001
#define PERCENT "%", 0.01
#define KILOWATTS "kW", 1000
#define CELSIUS "C", 1
#define MILLIMETRES "mm", 0.001
#define TRANSFER "W/(m2 K)", 1

static const struct setting settings[] = {
    {SECTION_SITE, "name", TYPE_NAME, PLAIN, REQUIRED, BYTES(SETTINGS_NAME), NULL,
	AT(site.name), "name of the plant in reports and in the store"},
    {SECTION_SITE, "timezone", TYPE_ZONE, PLAIN, REQUIRED, BYTES(SETTINGS_NAME), NULL,
	AT(site.zone), "time zone of the shifts, as the zone data base names it"},
    {SECTION_SITE, "temperature_unit", TYPE_WORD, PLAIN, "C", ANY, &words_temperature,
	AT(site.temperature), "how temperatures are shown"},
    {SECTION_SITE, "materials", TYPE_PATH, PLAIN, NOTHING, BYTES(SETTINGS_PATH), NULL,
	AT(site.materials), "a file of [material NAME] sections that is read along"},

    {SECTION_LEDGER, "path", TYPE_PATH, PLAIN, REQUIRED, BYTES(SETTINGS_PATH), NULL,
	AT(ledger.path), "the ledger's file"},
    {SECTION_LEDGER, "memory_shots", TYPE_INTEGER, PLAIN, "1000", 1, 100000, NULL,
	AT(ledger.memory_shots),
	"finished shots kept in memory while the ledger cannot be written"},
    {SECTION_LEDGER, "keep_traces_days", TYPE_INTEGER, PLAIN, "30", 0, 3650, NULL,
	AT(ledger.keep_traces_days),
	"the readings of each shot are kept for so many days; 0: none are"},

    {SECTION_STORE, "kind", TYPE_WORD, PLAIN, "influxdb1", ANY, &words_store,
	AT(store.kind), "what the store speaks"},
    {SECTION_STORE, "url", TYPE_URL, PLAIN, REQUIRED, BYTES(SETTINGS_PATH), NULL,
	AT(store.url), "where the store listens"},
    {SECTION_STORE, "database", TYPE_NAME, PLAIN, REQUIRED, BYTES(SETTINGS_NAME), NULL,
	AT(store.database), "data base in the store"},
    {SECTION_STORE, "user", TYPE_TEXT, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(store.user), "user of the store; left out where it asks for none"},
    {SECTION_STORE, "password_file", TYPE_PATH, PLAIN, NOTHING, BYTES(SETTINGS_PATH),
	NULL, AT(store.password_file),
	"file that holds the user's password, for its owner alone to read"},
    {SECTION_STORE, "timeout_s", TYPE_NUMBER, SECONDS, "10", 1, 300, NULL,
	AT(store.timeout_s), "a request may take this long"},
    {SECTION_STORE, "batch_lines", TYPE_INTEGER, PLAIN, "5000", 1, 20000, NULL,
	AT(store.batch_lines), "points sent in one request, at most"},

    {SECTION_LINE, "machine", TYPE_MACHINE, PLAIN, REQUIRED, ANY, NULL,
	AT(line.machine), "how sheets move: rotary, shuttle or single-station"},
    {SECTION_LINE, "stations", TYPE_STATIONS, PLAIN, REQUIRED, ANY, NULL, AT(line),
	"the stations in the order in which a sheet comes to them"},
    {SECTION_LINE, "sides", TYPE_SIDES, PLAIN, NOTHING, ANY, NULL, AT(line),
	"names of the two sides of a shuttle that has one oven between them"},
    {SECTION_LINE, "heat_min_s", TYPE_NUMBER, SECONDS, "30", 0, 3600, NULL,
	AT(line.heat_min_s), "a shorter stay in the oven heats nothing"},
    {SECTION_LINE, "heat_timer_s", TYPE_NUMBER, SECONDS, REQUIRED, 1, 7200, NULL,
	AT(line.heat_max_s), "the machine lets a sheet go after this, sagged or not"},
    {SECTION_LINE, "form_limit_s", TYPE_NUMBER, SECONDS, "30", 1, 3600, NULL,
	AT(line.form_limit_s), "once the sheet is there the platens close within this"},
    {SECTION_LINE, "form_min_s", TYPE_NUMBER, SECONDS, "5", 0, 3600, NULL,
	AT(line.form_min_s), "platens closed for less than this form nothing"},
    {SECTION_LINE, "startup_shots", TYPE_INTEGER, PLAIN, "3", 0, 1000, NULL,
	AT(line.startup_shots), "shots after a stop that statistics leave out"},
    {SECTION_LINE, "startup_after_s", TYPE_NUMBER, SECONDS, "900", 1, 86400, NULL,
	AT(line.startup_after_s), "this long without a sheet moving is a stop"},
    {SECTION_LINE, "rate_from_s", TYPE_NUMBER, SECONDS, "10", 0, 3600, NULL,
	AT(line.rate_from_s), "the heating rate is taken from here after heat start"},
    {SECTION_LINE, "rate_to_s", TYPE_NUMBER, SECONDS, "40", 1, 3600, NULL,
	AT(line.rate_to_s), "to here"},
    {SECTION_LINE, "coverage_min_percent", TYPE_NUMBER, PERCENT, "80", 1, 100, NULL,
	AT(line.coverage_min),
	"with good readings for less of its time a figure is absent"},
    {SECTION_LINE, "pyrometers", TYPE_WORD, PLAIN, "oven", ANY, &words_view,
	AT(line.view),
	"how they see the sheet: in the oven, or at the exit only, as it leaves"},
    {SECTION_LINE, "pyrometer_lag_s", TYPE_NUMBER, SECONDS, "0", 0, 30, NULL,
	AT(line.pyrometer_lag_s), "their damping: they show the surface late by this"},
    {SECTION_LINE, "pyrometer_lag_tolerance_s", TYPE_NUMBER, SECONDS, "1", 0, 30, NULL,
	AT(line.pyrometer_lag_tolerance_s), "how well that is known"},
    {SECTION_LINE, "pyrometer_tolerance", TYPE_DIFFERENCE, CELSIUS, "2 C", 0, 50, NULL,
	AT(line.pyrometer_tolerance_dc), "they may all be off by this at once"},
    {SECTION_LINE, "pyrometer_gain_tolerance_percent", TYPE_NUMBER, PERCENT, "2", 0, 50,
	NULL, AT(line.pyrometer_gain_tolerance),
	"and by this of the rise above the start: emissivity, windows"},
    {SECTION_LINE, "start_tolerance", TYPE_DIFFERENCE, CELSIUS, "2 C", 0, 50, NULL,
	AT(line.start_tolerance_dc), "how well the sheet's start temperature is known"},
    {SECTION_LINE, "start_temperature", TYPE_TEMPERATURE, CELSIUS, NOTHING,
	SHEET_COLDEST_C, SHEET_WARMEST_C, NULL, AT(line.start_c),
	"of a sheet as it goes in, where no stack sensor tells"},
    {SECTION_LINE, "transfer_w_per_m2k", TYPE_NUMBER, TRANSFER, "10", 0, 200, NULL,
	AT(line.transfer_w_m2k),
	"convection between the sheet and the hall on its way to the form"},
    {SECTION_LINE, "transfer_tolerance_percent", TYPE_NUMBER, PERCENT, "50", 0, 100,
	NULL, AT(line.transfer_tolerance), "how well that is known"},
    {SECTION_LINE, "ambient_tolerance", TYPE_DIFFERENCE, CELSIUS, "5 C", 0, 50, NULL,
	AT(line.ambient_tolerance_dc),
	"how well the surroundings on the way to the form are known"},
    {SECTION_LINE, "oven_air_w_per_m2k", TYPE_NUMBER, TRANSFER, NOTHING, 1, 300, NULL,
	AT(line.oven_air_w_m2k),
	"from the air of a convection oven to the sheet; with oven_air channels"},
    {SECTION_LINE, "oven_exchange_tolerance_percent", TYPE_NUMBER, PERCENT, "25", 0,
	100, NULL, AT(line.oven_exchange_tolerance), "how well that is known"},
    {SECTION_LINE, "oven_air_tolerance", TYPE_DIFFERENCE, CELSIUS, "5 C", 0, 50, NULL,
	AT(line.oven_air_tolerance_dc),
	"how well the oven's air where the sheet is is known"},
    {SECTION_LINE, "coolant_heat_percent", TYPE_NUMBER, PERCENT, "100", 50, 120, NULL,
	AT(line.coolant_heat_ratio),
	"heat that a volume of the coolant holds, against water's"},
    {SECTION_LINE, "coolant_viscosity_ratio", TYPE_NUMBER, PLAIN, "1", 0.2, 20, NULL,
	AT(line.coolant_viscosity_ratio), "of the coolant, against water's"},

    {SECTION_BUS, "port", TYPE_PATH, PLAIN, REQUIRED, BYTES(SETTINGS_PATH), NULL,
	AT(bus.path), "the serial device, such as /dev/ttyUSB0"},
    {SECTION_BUS, "baud", TYPE_INTEGER, PLAIN, REQUIRED, 1200, 230400, NULL,
	AT(bus.baud), "bits a second, as set in every device on it"},
    {SECTION_BUS, "parity", TYPE_WORD, PLAIN, "even", ANY, &words_parity,
	AT(bus.parity), "none, even or odd, as set in every device on it"},
    {SECTION_BUS, "stop_bits", TYPE_INTEGER, PLAIN, NOTHING, 1, 2, NULL,
	AT(bus.stop_bits), "1 when left out, without parity 2"},
    {SECTION_BUS, "rs485", TYPE_FLAG, PLAIN, "no", ANY, NULL, AT(bus.rs485),
	"the port's driver switches between sending and receiving; adapters that do it "
	"themselves need no"},

    {SECTION_DEVICE, "line", TYPE_NAME, PLAIN, REQUIRED, BYTES(SETTINGS_NAME), NULL,
	AT(device.line), "the line that it belongs to"},
    {SECTION_DEVICE, "address", TYPE_ADDRESS, PLAIN, NOTHING, ANY, NULL, AT(device.tcp),
	"in a network: host and port; the port is 502 when left out"},
    {SECTION_DEVICE, "bus", TYPE_NAME, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(device.bus_name), "on a serial line: the [bus NAME]"},
    {SECTION_DEVICE, "unit_id", TYPE_INTEGER, PLAIN, "1", 0, 255, NULL,
	AT(device.out.unit_id), "Modbus unit identifier"},
    {SECTION_DEVICE, "period_ms", TYPE_NUMBER, MILLISECONDS, "1000", 20, 60000, NULL,
	AT(device.out.period_s), "its channels are read once in this time"},
    {SECTION_DEVICE, "timeout_ms", TYPE_NUMBER, MILLISECONDS, "1000", 50, 60000, NULL,
	AT(device.out.timeout_s), "a request may take this long"},
    {SECTION_DEVICE, "gap_ms", TYPE_NUMBER, MILLISECONDS, "0", 0, 1000, NULL,
	AT(device.out.gap_s),
	"pause between its answer and the next request on its bus"},
    {SECTION_DEVICE, "max_registers", TYPE_INTEGER, PLAIN, "125", 1, 125, NULL,
	AT(device.out.max_registers), "registers that it gives in one answer"},
    {SECTION_DEVICE, "holes", TYPE_HOLES, PLAIN, NOTHING, ANY, NULL, AT(device.out),
	"registers that must not be read along with their neighbours"},

    {SECTION_CHANNEL, "role", TYPE_WORD, PLAIN, REQUIRED, ANY, &words_role,
	AT(channel.out.role), "what it is to the line"},
    {SECTION_CHANNEL, "station", TYPE_NAME, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(channel.station),
	"the oven of a surface or zone, where the line has several"},
    {SECTION_CHANNEL, "side", TYPE_NAME, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(channel.side), "the side that it belongs to; left out: to both"},
    {SECTION_CHANNEL, "count", TYPE_INTEGER, PLAIN, "1", 1, SETTINGS_POSITIONS, NULL,
	AT(channel.count), "so many alike, one after another: NAME_1, NAME_2 ..."},
    {SECTION_CHANNEL, "position", TYPE_INTEGER, PLAIN, NOTHING, 1, SETTINGS_POSITIONS,
	NULL, AT(channel.out.position), "position of the first; 1 when left out"},
    {SECTION_CHANNEL, "table", TYPE_WORD, PLAIN, REQUIRED, ANY, &words_table,
	AT(channel.out.table),
	"Modbus table: function code 1, 2, 3 or 4 in this order"},
    {SECTION_CHANNEL, "address", TYPE_INTEGER, PLAIN, REQUIRED, 0, 65535, NULL,
	AT(channel.address), "as on the wire, from 0: a document's 40001 is holding 0"},
    {SECTION_CHANNEL, "type", TYPE_WORD, PLAIN, REQUIRED, ANY, &words_encoding,
	AT(channel.out.encoding), "how the value is coded"},
    {SECTION_CHANNEL, "bit", TYPE_INTEGER, PLAIN, NOTHING, 0, 15, NULL,
	AT(channel.out.bit), "bit of a register, 0 the least significant"},
    {SECTION_CHANNEL, "inverted", TYPE_FLAG, PLAIN, "no", ANY, NULL,
	AT(channel.out.inverted), "a bit that is 0 while the thing is so"},
    {SECTION_CHANNEL, "on_at", TYPE_NUMBER, PLAIN, NOTHING, ANY, NULL,
	AT(channel.on_at),
	"a bit read as a number is on from this value, in the channel's unit"},
    {SECTION_CHANNEL, "off_at", TYPE_NUMBER, PLAIN, NOTHING, ANY, NULL,
	AT(channel.off_at),
	"and off from this one: below on_at, or above it for a bit that is on when "
	"low"},
    {SECTION_CHANNEL, "debounce_ms", TYPE_NUMBER, MILLISECONDS, "0", 0, 60000, NULL,
	AT(channel.out.debounce_s), "a bit that changes for less has not changed"},
    {SECTION_CHANNEL, "word_order", TYPE_WORD, PLAIN, NOTHING, ANY, &words_order,
	AT(channel.order),
	"bytes of a 32-bit value on the wire, a the most significant"},
    {SECTION_CHANNEL, "scale", TYPE_NUMBER, PLAIN, "1", ANY, NULL,
	AT(channel.out.scale), "value in the unit = raw value * scale + offset"},
    {SECTION_CHANNEL, "offset", TYPE_NUMBER, PLAIN, "0", ANY, NULL,
	AT(channel.out.offset), "in the channel's unit"},
    {SECTION_CHANNEL, "unit", TYPE_UNIT, PLAIN, NOTHING, ANY, NULL,
	AT(channel.out.unit), "unit of measure"},
    {SECTION_CHANNEL, "sentinels", TYPE_RAW, PLAIN, NOTHING, ANY, NULL,
	AT(channel.sentinels), "raw values that mean: no value"},
    {SECTION_CHANNEL, "minimum", TYPE_NUMBER, PLAIN, NOTHING, ANY, NULL,
	AT(channel.minimum), "a lower value cannot be; in the channel's unit"},
    {SECTION_CHANNEL, "maximum", TYPE_NUMBER, PLAIN, NOTHING, ANY, NULL,
	AT(channel.maximum), "a higher value cannot be; in the channel's unit"},
    {SECTION_CHANNEL, "period_ms", TYPE_NUMBER, MILLISECONDS, NOTHING, 20, 3600000,
	NULL, AT(channel.out.period_s),
	"it is read once in this time; the device's period_ms when left out"},
    {SECTION_CHANNEL, "at_heat", TYPE_FLAG, PLAIN, "no", ANY, NULL,
	AT(channel.out.at_heat),
	"read as a heat begins on its line, and else once in period_ms, here 60000 "
	"when left out"},
    {SECTION_CHANNEL, "frozen_after_s", TYPE_NUMBER, SECONDS, "0", 0, 86400, NULL,
	AT(channel.out.frozen_after_s),
	"no value once it has stood still for so long while others of its role, oven "
	"and side on the device moved; 0: not checked"},
    {SECTION_CHANNEL, "fault_bit", TYPE_NAME, PLAIN, NOTHING, BYTES(SETTINGS_NAME),
	NULL, AT(channel.fault_bit),
	"a channel of the device, of type bit: no value while it is 1"},
    {SECTION_CHANNEL, "rated_kw", TYPE_NUMBER, KILOWATTS, "0", 0, 1000, NULL,
	AT(channel.out.rated_w),
	"power of a zone at full output; without it no energy"},

    {SECTION_RECIPE, "name", TYPE_TEXT, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(recipe.name), "what people call it"},
    {SECTION_RECIPE, "material", TYPE_NAME, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(recipe.material), "the material that it is for"},
    {SECTION_RECIPE, "heat_timer_s", TYPE_NUMBER, SECONDS, NOTHING, 1, 7200, NULL,
	AT(recipe.heat_max_s), "in place of the line's"},
    {SECTION_RECIPE, "thickness", TYPE_LENGTH, MILLIMETRES, NOTHING, SHEET_LEAST_MM,
	SHEET_MOST_MM, NULL, AT(recipe.thickness_m),
	"of its sheets, cold, with its unit"},
    {SECTION_RECIPE, "thickness_tolerance_percent", TYPE_NUMBER, PERCENT, "2", 0, 50,
	NULL, AT(recipe.thickness_tolerance), "how well that is known"},
    {SECTION_RECIPE, "sheet_length", TYPE_LENGTH, MILLIMETRES, NOTHING, 10, 20000, NULL,
	AT(recipe.sheet_length_m), "of the sheet that the form cools"},
    {SECTION_RECIPE, "sheet_width", TYPE_LENGTH, MILLIMETRES, NOTHING, 10, 20000, NULL,
	AT(recipe.sheet_width_m), "of the sheet that the form cools"},
    {SECTION_RECIPE, "demould", TYPE_TEMPERATURE, CELSIUS, NOTHING, -20, 300, NULL,
	AT(recipe.demould_c),
	"mean of the part as it is taken off, in place of the material's"},

    {SECTION_MATERIAL, "version", TYPE_TEXT, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(material.version), "what you call this set of figures"},
    {SECTION_MATERIAL, "structure", TYPE_WORD, PLAIN, NOTHING, ANY, &words_structure,
	AT(material.structure),
	"amorphous, or semicrystalline: that melts as it is heated"},
    {SECTION_MATERIAL, "density_kg_per_m3", TYPE_NUMBER, "kg/m3", 1, NOTHING, 20, 5000,
	NULL, AT(material.density), "of the cold sheet"},
    {SECTION_MATERIAL, "heat_capacity_j_per_kgk", TYPE_CURVE, "J/(kg K)", 1, NOTHING,
	300, 10000, NULL, AT(material.heat_capacity),
	"one number, or several over degrees C; without the heat of fusion"},
    {SECTION_MATERIAL, "conductivity_w_per_mk", TYPE_CURVE, "W/(m K)", 1, NOTHING, 0.01,
	10, NULL, AT(material.conductivity), "one number, or several over degrees C"},
    {SECTION_MATERIAL, "fusion_kj_per_kg", TYPE_NUMBER, "kJ/kg", 1000, NOTHING, 1, 500,
	NULL, AT(material.fusion_j_kg),
	"heat that melting takes, of the sheet as it is"},
    {SECTION_MATERIAL, "melting", TYPE_TEMPERATURE, CELSIUS, NOTHING, 20, 400, NULL,
	AT(material.melting_c), "temperature at which most of it melts"},
    {SECTION_MATERIAL, "melting_width", TYPE_DIFFERENCE, CELSIUS, NOTHING, 0.5, 40,
	NULL, AT(material.melting_width_dc),
	"two thirds of it melt within this on either side: a standard deviation"},
    {SECTION_MATERIAL, "emissivity", TYPE_NUMBER, PLAIN, "0.94", 0.1, 1, NULL,
	AT(material.emissivity), "of its surface, for the heat that it radiates"},
    {SECTION_MATERIAL, "diffusivity_tolerance_percent", TYPE_NUMBER, PERCENT, "15", 0,
	100, NULL, AT(material.diffusivity_tolerance),
	"how well conductivity over density and heat capacity is known"},
    {SECTION_MATERIAL, "fusion_tolerance_percent", TYPE_NUMBER, PERCENT, "10", 0, 90,
	NULL, AT(material.fusion_tolerance),
	"how well the heat that melting takes is known"},
    {SECTION_MATERIAL, "form_from", TYPE_TEMPERATURE, CELSIUS, NOTHING, 20, 400, NULL,
	AT(material.form_low_c), "lowest core temperature at which it is formed"},
    {SECTION_MATERIAL, "form_to", TYPE_TEMPERATURE, CELSIUS, NOTHING, 20, 400, NULL,
	AT(material.form_high_c), "highest core temperature at which it is formed"},
    {SECTION_MATERIAL, "degrades_above", TYPE_TEMPERATURE, CELSIUS, NOTHING, 20, 500,
	NULL, AT(material.limit_c), "its surface must not stay above this"},
    {SECTION_MATERIAL, "demould", TYPE_TEMPERATURE, CELSIUS, NOTHING, -20, 300, NULL,
	AT(material.demould_c), "mean of the part as it is taken off"},

    {SECTION_TOOL, "part", TYPE_TEXT, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(tool.part), "what it makes"},
    {SECTION_TOOL, "water_bore", TYPE_LENGTH, MILLIMETRES, NOTHING, 1, 100, NULL,
	AT(tool.bore_m), "inner diameter of its water circuits"},

    {SECTION_SHIFT, "start", TYPE_MINUTE, PLAIN, REQUIRED, ANY, NULL,
	AT(shift.start_minute), "when it starts"},
    {SECTION_SHIFT, "end", TYPE_MINUTE, PLAIN, REQUIRED, ANY, NULL,
	AT(shift.end_minute), "when it ends; not after the start: on the next day"},
    {SECTION_SHIFT, "days", TYPE_DAYS, PLAIN, "mon-sun", ANY, NULL, AT(shift.days),
	"days on which it starts"},

    {SECTION_LIMITS, "lower", TYPE_MEASURE, PLAIN, NOTHING, ANY, NULL, AT(limits.lower),
	"lower limit with its unit"},
    {SECTION_LIMITS, "upper", TYPE_MEASURE, PLAIN, NOTHING, ANY, NULL, AT(limits.upper),
	"upper limit with its unit"},
    {SECTION_LIMITS, "recipe", TYPE_INTEGER, PLAIN, NOTHING, 0, 65535, NULL,
	AT(limits.out.recipe), "for this recipe only"},
    {SECTION_LIMITS, "tool", TYPE_NAME, PLAIN, NOTHING, BYTES(SETTINGS_NAME), NULL,
	AT(limits.out.tool), "for this tool only"},
};

static const char *const types[TYPE_COUNT] = {
    [TYPE_NAME] = "name",
    [TYPE_TEXT] = "text",
    [TYPE_PATH] = "path",
    [TYPE_URL] = "http://HOST:PORT",
    [TYPE_ADDRESS] = "HOST:PORT",
    [TYPE_INTEGER] = "whole number",
    [TYPE_NUMBER] = "number",
    [TYPE_WORD] = "word",
    [TYPE_FLAG] = "yes or no",
    [TYPE_MINUTE] = "HH:MM",
    [TYPE_DAYS] = "mon-fri, sun",
    [TYPE_UNIT] = "unit",
    [TYPE_ZONE] = "Europe/Berlin",
    [TYPE_MACHINE] = "rotary, shuttle or single-station",
    [TYPE_STATIONS] = "load, oven, form",
    [TYPE_SIDES] = "left, right",
    [TYPE_HOLES] = "holding 14-19, input 6",
    [TYPE_RAW] = "0x7fff, -9999",
    [TYPE_MEASURE] = "2.0 F",
    [TYPE_TEMPERATURE] = "150 C or 302 F",
    [TYPE_DIFFERENCE] = "2 C or 3.6 F",
    [TYPE_LENGTH] = "6.35 mm or 0.25 in",
    [TYPE_CURVE] = "1300, or 23: 1300, 105: 1700",
};

const struct section_traits *
schema_section(enum section_kind kind)
{
	assert(kind < SECTION_COUNT);
	return sections + kind;
}

const struct setting *
schema_settings(size_t *count)
{
	*count = sizeof(settings) / sizeof(settings[0]);
	return settings;
}

const struct setting *
schema_find(enum section_kind kind, const char *name)
{
	for (size_t i = 0; i < sizeof(settings) / sizeof(settings[0]); i++)
		if (settings[i].section == kind && strcmp(settings[i].name, name) == 0)
			return settings + i;
	return NULL;
}

const char *
schema_type_text(enum setting_type type)
{
	assert(type < TYPE_COUNT);
	return types[type];
}
