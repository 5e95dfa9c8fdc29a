# SPDX-License-Identifier: GPL-3.0-or-later
# An InfluxDB for the demo, read by demo.sh: on a directory of its own, on two ports that
# are free, ended with the demo.

free_port() { # not taken now, and not one that other programs are handed
	while :; do
		port=$(($(od -An -N2 -tu2 /dev/urandom) % 20000 + 10000))
		grep -qi ":$(printf '%04x' "$port") " /proc/net/tcp /proc/net/tcp6 || break
	done
	echo "$port"
}

start_store() {
	case $home in
	/*) store_dir=$home/influxdb ;;
	*) store_dir=$PWD/$home/influxdb ;;
	esac
	store_port=$(free_port)
	mkdir -p "$store_dir"
	cat >"$store_dir/influxdb.conf" <<-END
		reporting-disabled = true
		bind-address = "127.0.0.1:$(free_port)"
		[meta]
		dir = "$store_dir/meta"
		logging-enabled = false
		[data]
		dir = "$store_dir/data"
		wal-dir = "$store_dir/wal"
		query-log-enabled = false
		[monitor]
		store-enabled = false
		[http]
		bind-address = "127.0.0.1:$store_port"
		log-enabled = false
	END
	influxd -config "$store_dir/influxdb.conf" >"$store_dir/influxd.log" 2>&1 &
	store_pid=$!
	await curl -sf "http://127.0.0.1:$store_port/ping" ||
		fail "InfluxDB did not start; see $store_dir/influxd.log"
	ask_store 'CREATE DATABASE evensoak' >/dev/null
}

ask_store() {
	curl -sf -H 'Accept: application/csv' "http://127.0.0.1:$store_port/query" \
		--data-urlencode db=evensoak --data-urlencode "q=$1"
}

store_settings() {
	cat <<-END

		[store demo]
		kind = influxdb1
		url = http://127.0.0.1:$store_port
		database = evensoak
	END
}

# A shot that was given another tool later has its earlier points there too: ask for what holds.
show_store() {
	query="SELECT count(heat_s) AS shots, mean(heat_s) AS heat_s, mean(exit_top_c) AS exit_top_c, mean(tool_spread_of_means_dc) AS tool_spread_k FROM shot WHERE line = 'line-3' AND outcome = 'complete' AND \"current\" = 1 AND time >= '2026-03-02T05:00:00Z' AND time < '2026-03-02T13:00:00Z' GROUP BY time(1h)"
	say "The shift hour by hour, as InfluxDB has it:"
	say "  $query"
	ask_store "$query"
	say ""
}
