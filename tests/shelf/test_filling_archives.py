"""Zips that are broken, or made to do harm, are told of; what is sound in them is taken in."""

from __future__ import annotations

import io
import zipfile
import zlib
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import given, settings
from hypothesis import strategies as st

from reedwright.shelf.filling import archives
from reedwright.shelf.filling.archives import members
from reedwright.shelf.filling.importing import ImportOptions, import_tunes
from reedwright.shelf.filling.told import Told
from reedwright.shelf.keeping.opening import open_shelf
from reedwright.shelf.keeping.shelf import Shelf

TUNE = "X:1\nT:{}\nM:6/8\nK:G\nGAB d2B | AGA B2G |]\n"
PLAIN = ImportOptions(settings=False, grade=False, workers=1)


@pytest.fixture
def shelf(tmp_path: Path) -> Iterator[Shelf]:
    with open_shelf(tmp_path / "shelf") as opened:
        yield opened


def zipped(path: Path, **files: str | bytes) -> Path:
    with zipfile.ZipFile(path, "w", zipfile.ZIP_DEFLATED) as archive:
        for name, content in files.items():
            archive.writestr(name, content)
    return path


def read(path: Path) -> tuple[list[str], list[Told]]:
    """Names of the members, and what was told."""
    told: list[Told] = []
    found = members(path, lambda name: name.endswith(".abc"), lambda _: False, told.append)
    return [member.name.removeprefix(f"{path}/") for member in found], told


def test_names_that_lead_out_of_the_zip_are_labels_and_no_more(
    shelf: Shelf, tmp_path: Path
) -> None:
    path = tmp_path / "odd.zip"
    names = ("../../up.abc", "/root.abc", "C:\\x\\windows.abc", "a/../../b.abc", "good.abc")
    with zipfile.ZipFile(path, "w") as archive:
        for name in names:
            archive.writestr(zipfile.ZipInfo(name), TUNE.format(name.strip("./")))
    before = sorted(tmp_path.rglob("*"))
    report = import_tunes(shelf, [path], PLAIN)
    assert len(report.added) == 5
    files = [str(item.state.about["file"]) for item in shelf.items()]
    assert all(file.startswith(f"{path}/") and ".." not in file for file in files)
    assert [p for p in sorted(tmp_path.rglob("*")) if "shelf" not in p.parts] == [
        p for p in before if "shelf" not in p.parts
    ]  # nothing was unpacked


def test_zips_within_zips_are_read_so_deep(tmp_path: Path) -> None:
    content = b""
    for depth in range(5, 0, -1):
        inner = io.BytesIO()
        with zipfile.ZipFile(inner, "w") as archive:
            archive.writestr(f"tune{depth}.abc", TUNE.format(depth))
            if content:
                archive.writestr("in.zip", content)
        content = inner.getvalue()
    (tmp_path / "deep.zip").write_bytes(content)
    names, told = read(tmp_path / "deep.zip")
    assert names == ["tune1.abc", "in.zip/tune2.abc", "in.zip/in.zip/tune3.abc"]
    assert [each.file for each in told] == [str(tmp_path / "deep.zip/in.zip/in.zip/in.zip")]


def test_a_bomb_is_not_unpacked(shelf: Shelf, tmp_path: Path) -> None:
    bomb = b"X:1\nT:bomb\nK:C\n" + b"c" * (8 * 2**20)
    path = zipped(tmp_path / "bomb.zip", **{"bomb.abc": bomb, "good.abc": TUNE.format("good")})
    assert path.stat().st_size < 20_000
    report = import_tunes(shelf, [path], PLAIN)
    assert [item.name for item in shelf.items()] == ["good"]
    assert "times its size" in report.refused[0].message


def test_a_size_that_is_a_lie_gives_no_more_than_it_says(tmp_path: Path) -> None:
    text = TUNE.format("long") * 2000
    path = zipped(tmp_path / "lie.zip", **{"lie.abc": text, "good.abc": TUNE.format("good")})
    content = bytearray(path.read_bytes())
    real = len(text).to_bytes(4, "little")
    while real in content:  # the sizes in the file's own head and in the list at the end
        at = content.find(real)
        content[at : at + 4] = (100).to_bytes(4, "little")
    path.write_bytes(bytes(content))
    names, told = read(path)
    assert names == ["good.abc"]
    assert "damaged" in told[0].message


def test_large_files_and_large_zips_are_refused(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    texts = {f"{n}.abc": TUNE.format(n) * 20 for n in range(6)}
    path = zipped(tmp_path / "large.zip", **texts, **{"huge.abc": TUNE.format("h") * 200})
    size = len(texts["0.abc"])
    monkeypatch.setattr(archives, "MOST_IN_A_FILE", 2 * size)
    monkeypatch.setattr(archives, "MOST_IN_A_ZIP", 3 * size)
    names, told = read(path)
    assert names == ["0.abc", "1.abc", "2.abc"]
    assert "unpacks to more than" in told[0].message
    assert str(tmp_path / "large.zip/huge.abc") in {each.file for each in told}
    monkeypatch.setattr(archives, "MOST_MEMBERS", 6)
    names, told = read(path)
    assert names == [] and "More than 6 files" in told[0].message


def test_a_password_and_damage_are_told_by_file(tmp_path: Path) -> None:
    path = zipped(tmp_path / "some.zip", **{n: TUNE.format(n) for n in ("a.abc", "b.abc", "c.abc")})
    with zipfile.ZipFile(path) as archive:
        infos = {info.filename: info for info in archive.infolist()}
    content = bytearray(path.read_bytes())
    content[infos["b.abc"].header_offset + 40] ^= 0xFF  # within what was packed
    path.write_bytes(bytes(content))
    names, told = read(path)
    assert names == ["a.abc", "c.abc"]
    assert [Path(each.file).name for each in told] == ["b.abc"]
    at = content.find(b"PK\x01\x02")
    content[at + 8] |= 1  # the first file's flags in the list at the end: encrypted
    path.write_bytes(bytes(content))
    names, told = read(path)
    assert names == ["c.abc"]
    assert "password" in told[0].message


def test_a_zip_that_breaks_off_is_one_message(shelf: Shelf, tmp_path: Path) -> None:
    path = zipped(tmp_path / "short.zip", **{"a.abc": TUNE.format("a")})
    path.write_bytes(path.read_bytes()[:-30])
    (tmp_path / "good.abc").write_text(TUNE.format("good"))
    report = import_tunes(shelf, [path, tmp_path / "good.abc"], PLAIN)
    assert [each.file for each in report.refused] == [str(path)]
    assert len(report.added) == 1


@settings(max_examples=60, deadline=None)
@given(st.integers(0, 10**6), st.binary(min_size=1, max_size=8))
def test_any_damage_is_told_or_does_no_harm(place: int, noise: bytes) -> None:
    held = io.BytesIO()
    with zipfile.ZipFile(held, "w", zipfile.ZIP_DEFLATED) as archive:
        for name in ("a.abc", "b/c.abc"):
            archive.writestr(zipfile.ZipInfo(name), zlib.compress(TUNE.format(name).encode()))
    content = bytearray(held.getvalue())
    at = place % len(content)
    content[at : at + len(noise)] = noise
    told: list[Told] = []
    found = archives._members(
        io.BytesIO(bytes(content)), "x.zip", 1.0, lambda name: name.endswith(".abc"),
        lambda _: False, told.append, archives._Allowance(), 1,
    )  # fmt: skip
    assert len(list(found)) <= 2
    assert all(each.file.startswith("x.zip") and each.message for each in told)
