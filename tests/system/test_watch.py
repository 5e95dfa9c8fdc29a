# SPDX-License-Identifier: GPL-3.0-or-later
"""evensoak watch against the simulated line: a sound one has no remark, two bits that
are swapped in the set-up are named; what it draws on a terminal; how it ends."""

import json
import os
import re
import select
import signal
import subprocess
import sys
import time

import sockets
from plant import START, Plant, program, wait_for

RATE = 60


def watch(plant, *arguments, **how):
    command = [program("evensoak"), "watch", "--config", plant.config,
               "--clock-rate", str(plant.rate), "--clock-start", START,
               "--clock-origin", plant.ready["clock-origin-ns"], *arguments]
    return subprocess.run(command, stdin=subprocess.DEVNULL, capture_output=True,
                          text=True, timeout=120, check=False, **how)


def remarks(document):
    return {bit["channel"]: bit["remark"]
            for bit in document["lines"][0]["bits"] if bit["remark"]}


def swap_bits(text):
    """form_closed and sag_eye read each other's input."""
    first = "[channel controller.form_closed]\nrole = form_closed\ntable = discrete\naddress = "
    second = "[channel controller.sag_eye]\nrole = sag_eye\ntable = discrete\naddress = "
    assert first + "1" in text and second + "2" in text
    return text.replace(first + "1", first + "2").replace(second + "2", second + "1")


def a_sound_line_has_no_remark_and_swapped_bits_are_named():
    # One line serves both at once: each watch has connections of its own.
    with Plant(rate=RATE, sheets=40) as plant:
        plant.start_line()
        swapped = plant.path("swapped.ini")
        with open(plant.config, encoding="utf-8") as file:
            text = file.read()
        with open(swapped, "w", encoding="utf-8") as file:
            file.write(swap_bits(text))
        arguments = ("--for", "25m", "--format", "json")
        other = subprocess.Popen(
            [program("evensoak"), "watch", "--config", swapped,
             "--clock-rate", str(plant.rate), "--clock-start", START,
             "--clock-origin", plant.ready["clock-origin-ns"], *arguments],
            stdin=subprocess.DEVNULL, stdout=subprocess.PIPE, text=True)
        wait_for("its connections", lambda: sockets.inodes(other.pid))
        sockets.assert_closed(other.pid)
        sound = watch(plant, *arguments)
        wrong, _ = other.communicate(timeout=60)
        first = watch(plant, "--once")
        alone = watch(plant, "--once", "--device", "ovens")

    document = json.loads(sound.stdout)
    assert sound.returncode == 0, sound
    assert sound.stderr == "", sound.stderr
    assert remarks(document) == {}, remarks(document)
    line = document["lines"][0]
    assert line["cycles"] >= 5 and line["shots"] >= 5, line
    # the ring is full: each sheet one station behind the one before
    numbers = [place["sheet"] for place in line["stations"]]
    assert numbers[1] is not None and numbers[2] == numbers[1] - 1, line["stations"]
    for device in document["devices"]:
        assert device["answering"] is True and device["scans"] > 0, device
        for channel in device["channels"]:
            assert channel["quality"] == "good", channel
            # a poll period, and what a busy machine adds at this rate
            assert 0 <= channel["age_s"] < 30, channel

    assert other.returncode == 1, wrong
    told = remarks(json.loads(wrong))
    assert "form_closed" in told and "sag_eye" in told, told
    assert "sag_eye" in told["form_closed"] and "swapped" in told["form_closed"], told
    assert "form_closed" in told["sag_eye"], told

    assert first.returncode == 0, first
    assert alone.returncode == 0, alone
    assert "ovens, unit" in alone.stdout and "Stations" not in alone.stdout, alone
    assert "controller" not in alone.stdout, alone
    assert "Stations\n" in first.stdout and "\033" not in first.stdout, first.stdout


def a_silent_device_is_a_no():
    with Plant(rate=RATE, sheets=40) as plant:
        plant.start_line()
        with open(plant.config, encoding="utf-8") as file:
            text = file.read()
        dead = f"127.0.0.1:{plant.ready['water'].strip()}"
        assert dead in text
        with open(plant.config, "w", encoding="utf-8") as file:
            file.write(text.replace(dead, "127.0.0.1:1"))
        done = watch(plant, "--for", "60s")
    assert done.returncode == 1, done
    assert "does not answer" in done.stdout and "refused" in done.stdout, done.stdout


REFUSED = """
[channel water.nothing]
role = other
table = holding
address = 40012
type = uint16
"""


def a_refused_block_is_an_answer_in_part():
    with Plant(rate=RATE, sheets=40, settings=REFUSED) as plant:
        plant.start_line()
        plant.start_daemon()
        done = watch(plant, "--for", "60s", "--device", "water")
        wait_for("the daemon's word on it",
                 lambda: "answers in part" in plant.evensoak("status")[1])
        code, status, _ = plant.evensoak("status")
        plant.stop_daemon()
    assert done.returncode == 1 and code == 1, (done, status)
    assert ": answers in part; " in done.stdout, done.stdout
    assert "\nread holding 40012: exception 2" in done.stdout, done.stdout
    assert "wrong: device water: read holding 40012: exception 2" in status, status
    for page in (done.stdout, status):
        assert "does not answer" not in page and "silent" not in page, page
        assert "0 late" not in page, page


def too_few_stations_are_asked_for():
    with Plant(rate=RATE, sheets=40, machine="rotary-two-ovens",
               script="sheet 3 empty") as plant:
        plant.start_line()
        plant.machine = "rotary"  # the set-up of a ring of one frame less
        plant.write_config()
        done = watch(plant, "--for", "22m")
    assert done.returncode == 1, done
    assert "an empty frame was formed: are there as many stations" in done.stdout, done


def read_all(terminal, seconds):
    """What the terminal is sent until it is closed, or for so long."""
    got, until = b"", time.monotonic() + seconds
    while time.monotonic() < until:
        if not select.select([terminal], [], [], 0.1)[0]:
            continue
        try:
            piece = os.read(terminal, 65536)
        except OSError:
            break
        if not piece:
            break
        got += piece
    return got


def on_a_terminal_it_draws_in_place_and_ends_on_an_interrupt():
    with Plant(rate=RATE, sheets=40) as plant:
        plant.start_line()
        for no_color, seconds in (("", 7.6), ("1", 2.6)):
            terminal, side = os.openpty()
            os.set_blocking(terminal, True)
            subprocess.run(["stty", "rows", "24", "cols", "100"], stdin=side, check=True)
            process = subprocess.Popen(
                [program("evensoak"), "watch", "--config", plant.config],
                stdin=subprocess.DEVNULL, stdout=side, stderr=subprocess.PIPE,
                env={**os.environ, "TERM": "xterm", "NO_COLOR": no_color})
            os.close(side)
            drawn = read_all(terminal, seconds)
            assert process.poll() is None, process.stderr.read()
            process.send_signal(signal.SIGINT)
            rest = read_all(terminal, 10)
            os.close(terminal)
            assert process.wait(10) in (0, 1), process.returncode
            assert process.stderr.read() == b"", "nothing but the page"
            process.stderr.close()

            assert drawn.startswith(b"\033[?1049h"), drawn[:40]
            screens = drawn.decode().split("\033[H")[1:]
            assert len(screens) >= 2, drawn
            for screen in screens[:-1]:
                lines = screen.split("\n")
                assert len(lines) <= 24, screen
                assert re.match(r"[12] of 5\b", lines[-1]), screen
                for line in lines:
                    plain = re.sub(r"\033\[[0-9;?]*[A-Za-z]", "", line.rstrip("\r"))
                    assert len(plain) <= 100, plain
            # 5 s of the line, then the first device, with no other beside it
            for screen in screens[:-1]:
                first = "1 of 5" in screen.split("\n")[-1]
                assert ("Stations" in screen) == first, screen
                assert ("controller, unit" in screen) == (not first), screen
                assert "ovens, unit" not in screen, screen
            assert ("2 of 5" in drawn.decode()) == (seconds > 5), drawn
            coloured = re.search(r"\033\[[0-9]+m", screens[0]) is not None
            assert coloured == (no_color == ""), screens[0]
            # the screen from before is back, and the whole page stands on it
            assert b"\033[?1049l" in rest, rest
            page = rest.split(b"\033[?1049l")[1]
            assert b"Stations" in page and b"water_supply" in page, page


def main():
    for check in (sockets.assert_seen,
                  a_sound_line_has_no_remark_and_swapped_bits_are_named,
                  a_silent_device_is_a_no,
                  a_refused_block_is_an_answer_in_part,
                  too_few_stations_are_asked_for,
                  on_a_terminal_it_draws_in_place_and_ends_on_an_interrupt):
        print(check.__name__, flush=True)
        check()
    return 0


if __name__ == "__main__":
    sys.exit(main())
