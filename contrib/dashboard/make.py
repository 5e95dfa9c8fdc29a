#!/usr/bin/python3
# SPDX-License-Identifier: GPL-3.0-or-later
"""make.py [--check]: writes the dashboards' JSON beside itself from shifts.py, day.py and
health.py; --check only tells whether what is there is what it would write."""

import json
import os
import sys

import day
import health
import shifts

FOLDER = os.path.dirname(os.path.abspath(__file__))


def main():
    others = 0
    for module in (shifts, day, health):
        board = module.board().json()
        path = os.path.join(FOLDER, board["uid"] + ".json")
        text = json.dumps(board, indent=1, ensure_ascii=False) + "\n"
        if "--check" not in sys.argv:
            with open(path, "w", encoding="utf-8") as file:
                file.write(text)
            continue
        with open(path, encoding="utf-8") as file:
            if file.read() != text:
                print(f"{path} is not what make.py makes: run it")
                others += 1
    return 1 if others else 0


if __name__ == "__main__":
    sys.exit(main())
