#!/bin/sh
# SPDX-License-Identifier: GPL-3.0-or-later
# One eight-hour shift of an invented rotary line in about a minute: the simulated line
# serves Modbus, the daemon logs it, the shift report ends it.  With --store, also into an
# InfluxDB started here on a directory and ports of its own.  Leaves the ledger; leaves
# nothing running.
set -eu

build=${EVENSOAK_BUILD:-build}
home=$build/demo
rate=${EVENSOAK_DEMO_RATE:-480}
start=2026-03-02T05:00:00Z # 06:00 in Berlin: the early shift
store=no
[ "${1:-}" = --store ] && store=yes

line_pid='' daemon_pid='' store_pid=''
finish() {
	for pid in $daemon_pid $line_pid $store_pid; do
		kill "$pid" 2>/dev/null || true
	done
	wait 2>/dev/null || true
}
trap finish EXIT
trap 'exit 130' INT TERM

say() { printf '%s\n' "$*"; }
fail() {
	say "demo: $*" >&2
	exit 1
}
# Waits until the command given succeeds; tenths of a second, at most 20 s.
await() {
	tries=200
	until "$@" >/dev/null 2>&1; do
		tries=$((tries - 1))
		[ "$tries" -gt 0 ] || return 1
		sleep 0.1
	done
}

rm -rf "$home"
mkdir -p "$home"

if [ "$store" = yes ]; then
	. contrib/linesim/demo-store.sh
	start_store
fi

"$build/linesim" --seed 1 --clock-rate "$rate" --clock-start "$start" --duration-s 28800 \
	--script contrib/linesim/demo.script --truth "$home/truth.csv" \
	--ready "$home/ready" >"$home/linesim.log" 2>&1 &
line_pid=$!
await test -s "$home/ready" || fail "the simulated line did not start; see $home/linesim.log"
value() { sed -n "s/^$1 //p" "$home/ready"; }

# The ports of conf/demo.ini stand for the ones that were free.
sed -e "s/127\.0\.0\.1:1502/127.0.0.1:$(value controller)/" \
	-e "s/127\.0\.0\.1:1503/127.0.0.1:$(value pyrometers)/" \
	-e "s/127\.0\.0\.1:1504/127.0.0.1:$(value ovens)/" \
	-e "s/127\.0\.0\.1:1505/127.0.0.1:$(value water)/" conf/demo.ini >"$home/plant.ini"
[ "$store" = no ] || store_settings >>"$home/plant.ini"
cp conf/materials.ini "$home/" # which it reads along

"$build/evensoakd" --config "$home/plant.ini" --clock-rate "$rate" --clock-start "$start" \
	--clock-origin "$(value clock-origin-ns)" >"$home/evensoakd.log" 2>&1 &
daemon_pid=$!
ask="$build/evensoak --config $home/plant.ini"
await test -s "$home/ledger.db" || fail "the daemon did not start; see $home/evensoakd.log"
await $ask context --line line-3 tool T-117 --from 2026-03-02T06:00 ||
	fail "the ledger does not take the tool; see $home/evensoakd.log"
$ask context --line line-3 lot A-0412 --from 2026-03-02T06:00 >/dev/null

say "An early shift of line-3 (invented), eight hours in about $((28800 / rate)) s ..."
wait "$line_pid" || fail "the simulated line ended badly; see $home/linesim.log"
line_pid=''
sleep 1
kill "$daemon_pid"
wait "$daemon_pid" || fail "the daemon ended badly; see $home/evensoakd.log"
daemon_pid=''

# The delivery of 10:00 was only written down after the shift: entered late, back-dated.
$ask context --line line-3 lot A-0413 --from 2026-03-02T10:00
say ""
$ask report --shift early --date 2026-03-02
$ask report --shift early --date 2026-03-02 --format html >"$home/report.html"
say ""
[ "$store" = no ] || show_store
say "The same report as a page with pictures, to open in a browser: $home/report.html"
say "The ledger is $home/ledger.db; what the line really did is in $home/truth.csv."
say "To try next:"
say "  $ask shots --last 10"
say "  $ask shot 100"
say "  $ask report --shift early --date 2026-03-02 --format pdf >report.pdf"
say "  $ask report --shift early --date 2026-03-02 --format json"
say "the good hours as a reference, the shift against it, and what was found:"
say "  $ask reference freeze morning --from 2026-03-02T06:00 --to 2026-03-02T10:00"
say "  $ask report --shift early --date 2026-03-02"
say "the core of a sheet from readings of its faces, no ledger needed:"
say "  printf 't_s,top_c,bottom_c\\n0,23,23\\n60,128,124\\n120,172,168\\n160,186,181\\n' |"
say "      $build/evensoak soak - --config conf/materials.ini --material abs --thickness-mm 6.35"

# Scans that came late miss signals of the machine, and their sheets cannot be vouched for.
$ask shots --shift early --date 2026-03-02 --format csv | awk -F, -v rate="$rate" '
	NR == 1 { for (i = 1; i <= NF; i++) if ($i == "outcome") outcome = i; next }
	$outcome == "partial" { partial++ }
	END {
		if (partial <= 0.05 * (NR - 1))
			exit
		printf "\n%d of %d shots are partial: this computer was too busy for the clock'\''s rate;", partial, NR - 1
		printf " run it slower: EVENSOAK_DEMO_RATE=%d make demo\n", rate / 2
	}'
