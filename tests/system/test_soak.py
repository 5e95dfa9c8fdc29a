# SPDX-License-Identifier: GPL-3.0-or-later
"""The inside of a sheet from a CSV file, as a user without a set-up asks for it: every
shipped material, figures and picture read by readers that are not ours."""

import csv
import io
import json
import math
import os
import re
import shutil
import subprocess
import sys
import tempfile
import xml.etree.ElementTree as tree

import pdf
from plant import program

MATERIALS = "conf/materials.ini"
SVG = "{http://www.w3.org/2000/svg}"


def soak(text, *more):
    done = subprocess.run([program("evensoak"), "soak", "-", *more], input=text,
                          capture_output=True, text=True, timeout=20, check=False)
    assert done.returncode == 0, done
    return done.stdout


def heating(length_s=170, end_c=188, apart_c=3):
    """Surfaces that approach end_c, as in an oven at a steady output."""
    lines = ["t_s,top_c,bottom_c"]
    for s in range(length_s + 1):
        c = 23 + (end_c - 23) * (1 - math.exp(-s / (0.35 * length_s)))
        lines.append(f"{s},{c + apart_c:.2f},{c - apart_c:.2f}")
    return "\n".join(lines) + "\n"


def shipped_materials():
    with open(MATERIALS, encoding="utf-8") as file:
        return re.findall(r"^\[material (\S+)\]", file.read(), re.MULTILINE)


def every_shipped_material_soaks():
    names = shipped_materials()
    assert len(names) >= 8, names
    for name in names:
        told = json.loads(soak(heating(), "--thickness-mm", "4", "--material", name,
                               "--config", MATERIALS, "--start-c", "23",
                               "--format", "json"))
        assert 23 < told["core_c"] < told["surface_bottom_c"], (name, told)
        assert told["band_c"]["low"] < told["core_c"] < told["band_c"]["high"]
        assert told["quarter_top_c"] > told["core_c"] and told["mean_c"] > told["core_c"]
        assert 0 < told["soak_index"] < 1 and told["fourier"] > 0
        assert told["properties"]["hash"] and told["material"] == name


def the_course_ends_where_the_figures_are():
    more = ("--thickness-mm", "6.35", "--material", "abs", "--config", MATERIALS,
            "--start-c", "23", "--transfer-s", "9", "--air-c", "25")
    told = json.loads(soak(heating(), *more, "--format", "json"))
    rows = list(csv.DictReader(io.StringIO(soak(heating(), *more, "--format", "csv"),
                                           newline="")))
    assert abs(float(rows[0]["t_s"])) < 1e-9 and abs(float(rows[-1]["t_s"]) - 179) < 1e-6
    for key in ("core_c", "mean_c", "quarter_top_c", "quarter_bottom_c", "surface_top_c",
                "surface_bottom_c"):
        assert abs(float(rows[-1][key]) - told[key]) < 1e-6, (key, rows[-1], told)
    assert told["heat_end"]["surface_top_c"] > told["surface_top_c"]


def the_picture_is_xml_and_within_its_sheet():
    for name in shipped_materials():
        picture = tree.fromstring(soak(
            heating(), "--thickness-mm", "6.35", "--material", name, "--config",
            MATERIALS, "--start-c", "23", "--transfer-s", "9", "--air-c", "25",
            "--format", "svg"))
        assert picture.tag == SVG + "svg", picture.tag
        _, _, width, height = map(float, picture.get("viewBox").split())
        words = [text.text for text in picture.iter(SVG + "text")]
        assert f"6.35 mm of {name}" in words, words
        assert {"top", "core", "bottom", "heat ends", "0 s"} <= set(words), words
        shapes = [shape for kind in ("polyline", "polygon")
                  for shape in picture.iter(SVG + kind)]
        assert len(shapes) > 20
        for shape in shapes:
            for point in shape.get("points").split():
                x, y = map(float, point.split(","))
                assert 0 <= x <= width and 0 <= y <= height, (name, point)
        for element in picture.iter():
            for key, value in element.attrib.items():
                assert "href" not in key and "url(http" not in value, element


def the_file_may_lie_anywhere():
    with tempfile.NamedTemporaryFile("w", suffix="<&>.csv", encoding="ascii") as file:
        file.write(heating())
        file.flush()
        done = subprocess.run(
            [program("evensoak"), "soak", file.name, "--thickness-mm", "6.35",
             "--diffusivity", "8.4e-8", "--format", "svg"],
            capture_output=True, text=True, timeout=20, check=True)
    tree.fromstring(done.stdout)


def document(form, environment=None):
    done = subprocess.run(
        [program("evensoak"), "soak", "-", "--thickness-mm", "6.35", "--material", "ABS",
         "--config", MATERIALS, "--format", form],
        input=heating().encode(), capture_output=True, timeout=20, check=True,
        env={**os.environ, **(environment or {})})
    return done.stdout


def a_page_is_one_file_that_asks_for_nothing():
    text = document("html").decode()
    page = tree.fromstring(text.split("\n", 1)[1])
    of_html = "{http://www.w3.org/1999/xhtml}"
    assert text.startswith("<!DOCTYPE html>\n") and page.get("lang") == "en"
    assert not list(page.iter(of_html + "script"))
    assert len(list(page.iter(SVG + "svg"))) == 1
    for element in page.iter():
        for key, value in element.attrib.items():
            assert key not in ("src", "srcset") and not key.startswith("on"), element
            assert "href" not in key or value.startswith(("#", "data:,")), value
    labels = [label.text for label in page.iter(of_html + "dt")]
    assert "Fourier number" in labels, labels
    style = page.find(f".//{of_html}style").text
    assert "url(" not in style and "@import" not in style and "@page" in style


def paper_tells_the_same_in_words():
    sheets = document("pdf")
    told = pdf.words(sheets)
    assert pdf.sheet_count(sheets) == 1 and "1 of 1" in told, told
    for words in ("6.35 mm of abs", "Fourier number", "temperature, C", "heat ends"):
        assert words in told, (words, told)
    assert document("pdf") == sheets  # no date, no chance in it


def a_machine_without_fonts_still_writes_paper():
    with tempfile.NamedTemporaryFile("w", suffix=".conf", encoding="ascii") as none:
        none.write("<fontconfig></fontconfig>\n")
        none.flush()
        bare = {"FONTCONFIG_FILE": none.name}
        assert document("pdf", bare).startswith(b"%PDF")
        assert document("png", bare).startswith(b"\x89PNG")


def installed_materials_are_found_without_a_set_up():
    if os.path.exists("/etc/evensoak/evensoak.ini"):
        print("  this machine has a set-up: not looked at")
        return
    with tempfile.TemporaryDirectory() as prefix:
        os.makedirs(f"{prefix}/bin")
        os.makedirs(f"{prefix}/share/evensoak/examples")
        command = shutil.copy(program("evensoak"), f"{prefix}/bin")
        ask = [command, "soak", "-", "--thickness-mm", "6.35", "--material", "ABS",
               "--format", "json"]
        done = subprocess.run(ask, input=heating(), capture_output=True, text=True,
                              timeout=20, check=False)
        assert done.returncode == 3 and "--config FILE" in done.stderr, done
        shutil.copy(MATERIALS, f"{prefix}/share/evensoak/examples")
        done = subprocess.run(ask, input=heating(), capture_output=True, text=True,
                              timeout=20, check=True)
        assert json.loads(done.stdout)["material"] == "abs", done


def main():
    for check in (every_shipped_material_soaks,
                  installed_materials_are_found_without_a_set_up, the_course_ends_where_the_figures_are,
                  the_picture_is_xml_and_within_its_sheet, the_file_may_lie_anywhere,
                  a_page_is_one_file_that_asks_for_nothing, paper_tells_the_same_in_words,
                  a_machine_without_fonts_still_writes_paper):
        print(check.__name__)
        check()
    return 0


if __name__ == "__main__":
    sys.exit(main())
