# SPDX-License-Identifier: GPL-3.0-or-later
"""Sensor offsets read from the simulated line while it stands and its water runs, beside
the daemon; what is not such a run is refused."""

import json
import signal
import statistics
import subprocess
import sys
import time

from plant import START, Plant, program

RATE = 120
SENSORS = 17  # eight in the tool, eight returns, the supply


def offsets(plant, *arguments, **how):
    return subprocess.Popen(
        [program("evensoak"), "calibrate", "offsets", "--config", plant.config,
         "--clock-rate", str(plant.rate), "--clock-start", START,
         "--clock-origin", plant.ready["clock-origin-ns"], *arguments],
        stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, stderr=subprocess.PIPE,
        text=True, **how)


def a_standing_line_gives_offsets_beside_the_daemon():
    with Plant(rate=RATE, duration_s=14400, script="at 1 fault for_s=14000\n") as plant:
        plant.start_line()
        plant.start_daemon()
        time.sleep(2400 / RATE)  # the tool takes the temperature of its water
        run = offsets(plant, "--for", "20m", "--by", "M. Beispiel", "--due", "2027-03-01",
                      "--format", "json", "--ledger", plant.ledger)
        out, err = run.communicate(timeout=120)
        assert run.returncode == 0, (out, err)
        document = json.loads(out)
        code, listed, _ = plant.evensoak("calibrate", "--format", "json")
        plant.stop_daemon()
    assert document["steady"] is True and document["entered"] is True, document
    assert len(document["offsets"]) == SENSORS, document
    supply = "water.water_supply"
    assert document["true_c"] is None, document
    for sensor in document["offsets"]:
        # the water is warmer than the hall: nothing must read the same as the supply
        if sensor["channel"] == supply:
            assert sensor["remark"] == "not compared" and sensor["offset_dc"] is None, sensor
            continue
        assert sensor["remark"] == "" or sensor["remark"] is None, sensor
        # a reading a second; what a busy machine skips at this rate is not missed
        assert sensor["readings"] > 300, sensor
        # sensors of this plant are off by 0.1 K or so, a standing tool loses little
        assert abs(sensor["offset_dc"]) < 0.6, sensor
        assert 0 < sensor["offset_error_dc"] < 0.1, sensor
    for kind in ("tool", "return"):
        found = [sensor["offset_dc"] for sensor in document["offsets"]
                 if kind in sensor["channel"]]
        assert len(found) == 8 and abs(statistics.median(found)) < 0.02, (kind, found)
    rows = json.loads(listed)["calibrations"]
    assert len(rows) == SENSORS - 1, rows
    left = {row["channel"]: row["as_left"] for row in rows}
    assert supply not in left, left
    for channel in left:
        sensor = next(one for one in document["offsets"] if one["channel"] == channel)
        assert abs(left[sensor["channel"]] - sensor["offset_dc"]) < 1e-12, sensor


def a_line_that_forms_is_refused():
    with Plant(rate=RATE, sheets=40) as plant:
        plant.start_line()
        run = offsets(plant, "--for", "30m")
        out, err = run.communicate(timeout=120)
    assert run.returncode == 1, (out, err)
    assert out == "" and "the platens of line-3 are closed" in err, (out, err)


def an_interrupt_ends_it():
    with Plant(rate=1, sheets=40) as plant:
        plant.start_line()
        run = offsets(plant)
        time.sleep(1)
        run.send_signal(signal.SIGINT)
        out, err = run.communicate(timeout=20)
    assert run.returncode == 1, (out, err)
    assert out == "" and "ended too soon" in err, (out, err)


def main():
    for check in (a_standing_line_gives_offsets_beside_the_daemon,
                  a_line_that_forms_is_refused,
                  an_interrupt_ends_it):
        print(check.__name__, flush=True)
        check()
    return 0


if __name__ == "__main__":
    sys.exit(main())
