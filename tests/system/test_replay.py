# SPDX-License-Identifier: GPL-3.0-or-later
# Not under the sanitizers: it is about figures; traces and recordings have unit tests and fuzz targets.
"""A live run with everything that goes wrong, recorded; the recording played again.

The replay must give the live ledger's shots bit for bit: every column but the change
numbers, every channel, every reason, every trace, every event but the logger's own.  So
must a recompute from the traces.
"""

import json
import os
import subprocess
import sys

from plant import Plant, program

SCRIPT = """
sheet 4 empty
sheet 6 scrap
sheet 8 abort
sheet 10 double-index
sheet 12 cold start_c=-30
sheet 13 sag-eye state=stuck
sheet 15 sag-eye state=bouncing
sheet 17 fault for_s=60
at 2000 silent device=controller for_s=40
at 3300 open channel=water.tool_3 for_s=700
at 3700 silent device=pyrometers for_s=200
at 3900 late device=water delay_s=300 for_s=300
sheet 22 counter value=0
"""

TABLES = {
    "shot": "SELECT * FROM shot ORDER BY shot_no",
    "shot_channel": "SELECT * FROM shot_channel ORDER BY id",
    "absent": "SELECT * FROM absent ORDER BY shot, feature",
    "trace": "SELECT * FROM trace ORDER BY shot",
    # Of lines: what a logger tells of itself is of another one.
    "event": "SELECT line, at, kind, text FROM event WHERE line NOT NULL "
             "AND kind NOT IN ('start', 'end') ORDER BY change",
    "in_flight": "SELECT * FROM in_flight ORDER BY line",
}


def contents(plant):
    """Every row of every table, without change numbers."""
    rows = {table: plant.query(sql) for table, sql in TABLES.items()}
    for row in rows["shot"]:
        del row["change"]
    return rows


def replay(plant, name, recording, change=lambda text: text, stdin=None):
    """Plays it into a new ledger; (exit code, stderr).  `plant` then reads that ledger."""
    plant.ledger = plant.path(name + ".db")
    config = plant.path(name + ".ini")
    with open(plant.config, encoding="utf-8") as file:
        text = file.read()
    with open(config, "w", encoding="utf-8") as file:
        file.write(change(text.replace("path = ledger.db", f"path = {name}.db")))
    done = subprocess.run(
        [program("evensoakd"), "--config", config, "--replay", recording],
        stdin=stdin or subprocess.DEVNULL, capture_output=True, timeout=120, check=False)
    return done.returncode, done.stderr.decode()


def check_same(plant, live):
    played = contents(plant)
    for table, rows in live.items():
        assert len(played[table]) == len(rows), (table, len(played[table]), len(rows))
        for one, other in zip(rows, played[table]):
            differ = {key: (one[key], other[key]) for key in one if one[key] != other[key]}
            assert not differ, (table, one, differ)


def exact(plant, recording, live):
    code, told = replay(plant, "again", recording)
    assert code == 0, told
    check_same(plant, live)
    with open(recording, "rb") as file:
        code, told = replay(plant, "piped", "-", stdin=file)
    assert code == 0, told
    check_same(plant, live)
    counts = {table: len(rows) for table, rows in live.items()}
    print("the same, from a file and through a pipe:", counts)


def refused(plant, recording):
    """A ledger that is ahead; one that a daemon has; what is no recording."""
    before = contents(plant)
    code, told = replay(plant, "piped", recording)
    assert code == 3 and "has shots up to" in told and len(told.splitlines()) == 1, told
    check_same(plant, before)
    for content, words in ((b"", "no recording"), (b"a text\n" * 99, "no recording"),
                           (b"evensoak recording 9\n", "later version"),
                           (b"evensoak recording 1\nx", "cut off"),
                           (b"evensoak recording 1\nxxxxxxxxx", "damaged")):
        with open(plant.path("other"), "wb") as file:
            file.write(content)
        code, told = replay(plant, "none", plant.path("other"))
        assert words in told and code == (0 if words == "cut off" else 3), (code, told)
    code, told = replay(plant, "none", plant.path("nowhere"))
    assert code == 3 and "nowhere" in told, (code, told)


def cut_off(plant, recording, live):
    """A daemon that was killed leaves half a block: what came before it is played."""
    with open(recording, "rb") as file:
        content = file.read()
    with open(plant.path("cut"), "wb") as file:
        file.write(content[:len(content) * 2 // 3])
    code, told = replay(plant, "cut", plant.path("cut"))
    assert code == 0 and "cut off" in told, (code, told)
    played = contents(plant)
    shots = len(played["shot"])
    assert len(live["shot"]) // 2 < shots < len(live["shot"])
    # the last one that has left is given out before its last readings came
    assert played["shot"][:shots - 1] == live["shot"][:shots - 1]


def corrected(plant, recording, live):
    """Registers that were decoded wrong are decoded right in the replay."""
    where = "[channel water.tool]"
    code, told = replay(plant, "corrected", recording, lambda text: text.replace(
        where, where + "\noffset = 1.8"))
    assert code == 0, told
    pairs = [(one["tool_mean_c"], other["tool_mean_c"])
             for one, other in zip(live["shot"], plant.shots())
             if one["tool_mean_c"] is not None]
    assert len(pairs) > 5
    assert {round(other - one, 6) for one, other in pairs} == {1.8}, pairs


def appended(plant):
    """A second run goes on with the recording; both are played, one after the other."""
    recording = plant.path("two")
    for _ in range(2):
        plant.start_daemon(wait=False, more=("--record", recording))
        had = len(plant.shots()) if os.path.exists(plant.ledger) else 0
        while len(plant.shots() if plant._has_ledger() else []) < had + 4:
            assert plant.daemon.poll() is None, plant.log("daemon.log")
        plant.stop_daemon()
    live = contents(plant)
    code, told = replay(plant, "both", recording)
    assert code == 0, told
    check_same(plant, live)
    print(f"two runs in one recording: {len(live['shot'])} shots")


def kind(machine, seed):
    """The same of a machine of another kind."""
    script = "sheet 4 empty\nsheet 6 scrap\nsheet 8 abort\nsheet 10 reheat\n"
    with Plant(rate=240, sheets=14, script=script, seed=seed, machine=machine) as plant:
        recording = plant.path("recording")
        plant.start_line()
        plant.start_daemon(more=("--record", recording))
        plant.wait_line()
        plant.stop_daemon()
        live = contents(plant)
        made_again(plant)
        code, told = replay(plant, "again", recording)
        assert code == 0, told
        check_same(plant, live)
        print(f"{machine}: {len(live['shot'])} shots, "
              f"{sum(len(row['bytes']) for row in live['trace'])} bytes of traces")


APART = {"[channel ovens.set_point]": "at_heat = yes",
         "[channel water.water_return]": "period_ms = 3000",
         "[channel water.water_supply]": "period_ms = 3000",
         "[channel water.water_flow]": "period_ms = 5000",
         "[channel pyrometers.stack]": "period_ms = 10000",
         "[channel pyrometers.ambient]": "period_ms = 10000"}


def apart(text):
    """Channels of a device that are read at periods of their own."""
    for where, line in APART.items():
        assert where in text
        text = text.replace(where, f"{where}\n{line}")
    return text


def together(text):
    for where, line in APART.items():
        text = text.replace(f"{where}\n{line}\n", f"{where}\n")
    assert "at_heat = yes" not in text
    return text


def groups(seed):
    """The same of channels that are read apart; and of their recording under settings that
    read them together."""
    with Plant(rate=240, sheets=16, script="sheet 6 scrap\n", seed=seed,
               change=apart) as plant:
        recording = plant.path("recording")
        plant.start_line()
        plant.start_daemon(more=("--record", recording))
        plant.wait_line()
        plant.stop_daemon()
        live = contents(plant)
        made_again(plant)
        known = [row["set_points"] for row in live["shot"] if row["set_points"]]
        assert len(known) > 8 and len(set(known)) == 1, known
        exact(plant, recording, live)
        code, told = replay(plant, "together", recording, together)
        assert code == 0, told
        played = plant.shots()
        assert [row["outcome"] for row in played] == [row["outcome"] for row in live["shot"]]
        for feature in ("heat_s", "exit_top_c", "form_s", "tool_mean_c"):
            assert ([row[feature] for row in played] ==
                    [row[feature] for row in live["shot"]]), feature
        print(f"read apart: {len(live['shot'])} shots")


def made_again(plant):
    """From the traces, under the same set-up: nothing is to be changed."""
    code, told, wrong = plant.evensoak("recompute", "--dry-run", "--format", "json")
    assert code == 0 and not wrong, (code, told, wrong)
    counts = json.loads(told)
    assert counts["changed"] == counts["no_trace"] == counts["left_count"] == 0, told
    assert counts["made_again"] == len(plant.shots()), told


def main():
    seed = int(os.environ.get("EVENSOAK_SEED", "11"))
    print(f"seed {seed}")
    with Plant(rate=240, sheets=26, script=SCRIPT, seed=seed) as plant:
        recording = plant.path("recording")
        plant.start_line()
        plant.start_daemon(more=("--record", recording))
        plant.wait_line()
        plant.stop_daemon()
        live = contents(plant)
        outcomes = {row["outcome"] for row in live["shot"]}
        assert len(live["shot"]) > 20 and len(outcomes) > 4, outcomes
        print(f"{len(live['shot'])} shots, {os.path.getsize(recording)} bytes recorded")
        made_again(plant)
        exact(plant, recording, live)
        refused(plant, recording)
        cut_off(plant, recording, live)
        corrected(plant, recording, live)
    with Plant(rate=240, duration_s=7200, seed=seed + 1) as plant:
        plant.start_line()
        appended(plant)
    groups(seed + 3)
    kind("shuttle-two-sides", seed + 2)
    kind("rotary-two-ovens", seed + 2)
    return 0


if __name__ == "__main__":
    sys.exit(main())
