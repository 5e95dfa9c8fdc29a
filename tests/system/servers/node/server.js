// SPDX-License-Identifier: GPL-3.0-or-later
// node server.js MODULES PORT CELLS: the npm package modbus-serial, installed in the folder
// MODULES, serving the units in CELLS over TCP; what is not among them gets exception 2.
"use strict";
const fs = require("fs");
const path = require("path");

const [modules, port, file] = process.argv.slice(2);
const { ServerTCP } = require(path.resolve(modules, "node_modules", "modbus-serial"));
const asked = process.env.EVENSOAK_ASKED;
const seen = new Set();

const cells = new Map();
for (const line of fs.readFileSync(file, "ascii").trim().split("\n")) {
	const [unit, code, address, value] = line.split(" ").map(Number);
	cells.set(`${unit} ${code} ${address}`, value);
}

function cell(code, address, unit) {
	const value = cells.get(`${unit} ${code} ${address}`);
	if (value === undefined)
		throw Object.assign(new Error("no such address"), { modbusErrorCode: 2 });
	return value;
}

// What comes on the wire, whatever the package makes of it.
function tell(socket) {
	let rest = Buffer.alloc(0);
	socket.on("data", (data) => {
		rest = Buffer.concat([rest, data]);
		while (rest.length >= 8 && rest.length >= 6 + rest.readUInt16BE(4)) {
			const code = rest[7];
			rest = rest.subarray(6 + rest.readUInt16BE(4));
			if (asked && !seen.has(code))
				fs.appendFileSync(path.join(asked, "node"), `node ${code}\n`);
			seen.add(code);
		}
	});
}

const server = new ServerTCP({
	getCoil: (address, unit) => cell(1, address, unit) === 1,
	getDiscreteInput: (address, unit) => cell(2, address, unit) === 1,
	getHoldingRegister: (address, unit) => cell(3, address, unit),
	getInputRegister: (address, unit) => cell(4, address, unit),
}, { host: "127.0.0.1", port: Number(port), unitID: 255, debug: false });
server._server.on("connection", tell);
server.on("socketError", () => {});
