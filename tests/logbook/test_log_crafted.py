"""Files that were damaged or altered: said plainly, never followed, never costly."""

import json
import os
import zlib
from functools import cache

import pytest
from log_files import alter, open_damaged, replace_row, s1p

from sweepkit.errors import SweepkitError, UnreadableFile
from sweepkit.logbook import (
    check_logbook,
    export_logbook,
    find_sweep,
    import_logbook,
    list_lines,
    list_sweeps,
    open_logbook,
)
from sweepkit.logbook.computed import raw_bytes
from sweepkit.logbook.digests import digest_sql
from sweepkit.logbook.raw import LARGEST_RAW_BYTES, unpack


def test_a_whole_logbook_is_whole(filled):
    found = check_logbook(filled)
    assert found.problems == ()
    assert (found.sweeps, found.setups, found.raw_files) == (3, 2, 4)
    assert found.raw_bytes == sum(len(s1p(number)) for number in (1, 2, 3)) + len(b"region = 2\n")


@cache
def bomb() -> bytes:
    """Little that unpacks to more than any raw file may have."""
    return zlib.compress(bytes(LARGEST_RAW_BYTES + (1 << 20)), 1)


@pytest.mark.parametrize(
    ("size", "packed"),
    [
        (len(s1p(1)), zlib.compress(s1p(2))),
        (len(s1p(1)), zlib.compress(s1p(1))[:-3]),
        (len(s1p(1)), zlib.compress(s1p(1)) + b"more"),
        (len(s1p(1)) - 1, zlib.compress(s1p(1))),
        (len(s1p(1)), b"junk"),
        (len(s1p(1)), "text"),
        (len(s1p(1)), bomb),
        (LARGEST_RAW_BYTES + (1 << 20), bomb),
        (-1, zlib.compress(s1p(1))),
        (1 << 62, zlib.compress(s1p(1))),
    ],
)
def test_a_raw_file_that_is_not_what_its_hash_says_is_found(filled, path, size, packed):
    sha256 = find_sweep(filled, 1).sha256
    packed = packed() if callable(packed) else packed
    filled.close()
    replace_row(path, "UPDATE raw SET size = ?, packed = ? WHERE sha256 = ?", size, packed, sha256)
    with open_damaged(path) as log:
        (problem,) = check_logbook(log).problems
        assert problem.startswith(f"sweep 1: raw file {sha256[:12]} is not what its hash says")
        with pytest.raises(
            UnreadableFile, match=f"raw file {sha256[:12]} is not what its hash says.*go back"
        ):
            raw_bytes(log, find_sweep(log, 1))
        assert raw_bytes(log, find_sweep(log, 2)) == s1p(2)


def test_unpacking_takes_no_more_memory_than_a_raw_file_may_need():
    import tracemalloc

    packed = bomb()
    tracemalloc.start()
    assert unpack(1000, packed) is None
    assert unpack(LARGEST_RAW_BYTES + 1, packed) is None
    assert tracemalloc.get_traced_memory()[1] < 1 << 20
    tracemalloc.stop()


@pytest.mark.parametrize(
    "query",
    [
        "UPDATE sweep SET facts = '{' WHERE id = 1",
        "UPDATE sweep SET facts = '[]' WHERE id = 1",
        "UPDATE sweep SET facts = replace(hex(zeroblob(60000)), '00', '[') WHERE id = 1",
        "UPDATE sweep SET hints = 7 WHERE id = 1",
        "UPDATE sweep SET added = 'yesterday' WHERE id = 1",
        "UPDATE sweep SET name = x'00' WHERE id = 1",
        "UPDATE setup SET uid = 5.5 WHERE id = 1",
        "UPDATE setup SET taken_over = '{}' WHERE id = 1",
    ],
)
def test_a_damaged_record_is_said_and_does_not_crash(filled, path, query):
    filled.close()
    replace_row(path, query)
    with open_damaged(path) as log:
        (problem,) = check_logbook(log).problems
        assert problem.startswith(
            ("sweep 1: it is not as it was written", "setup S1: it is not as it was written")
        )
        # a damaged setup stands for one of which nothing is known; a damaged sweep is left out
        assert [sweep.id for sweep in list_sweeps(log)] == ([1, 2, 3] if "setup" in query else [2, 3])
        assert [line.id for line in list_lines(log)] == ([1, 2, 3] if "setup" in query else [2, 3])
        assert list(log.left_out) == [problem.split(":")[0]]


def test_facts_that_cannot_be_are_found(filled, path):
    filled.close()
    replace_row(path, """UPDATE sweep SET facts = '{"length_m": -4}' WHERE id = 1""")
    replace_row(path, """UPDATE sweep SET hints = '{"unit": 5}' WHERE id = 2""")
    replace_row(path, """UPDATE setup SET facts = '{"ground": "mud"}' WHERE id = 2""")
    alter(path, *(f"UPDATE {table} SET digest = {digest_sql(table)}" for table in ("setup", "sweep")))
    with open_damaged(path) as log:
        first, second, third = check_logbook(log).problems
    assert first.startswith("setup S2: ground: 'mud' is not one of")
    assert second == "sweep 1: length: -4 is not 0 to 10000 m; was another unit meant?; the sweep is left out"
    assert third == "sweep 2: 'unit' with 5 is no hint for a reader; the sweep is left out"


def test_a_sweep_without_its_raw_file_is_found(filled, path):
    filled.close()
    replace_row(path, "DELETE FROM raw WHERE sha256 = (SELECT sha256 FROM sweep WHERE id = 3)")
    with open_damaged(path) as log:
        assert "is missing; the logbook is damaged" in check_logbook(log).problems[0]
        with pytest.raises(UnreadableFile, match="is missing; the logbook is damaged"):
            raw_bytes(log, find_sweep(log, 3))


@pytest.mark.parametrize("start", range(0, 60000, 4096))
def test_a_page_overwritten_on_the_card_is_never_a_crash(filled, path, start):
    filled.close()
    data = bytearray(path.read_bytes())
    data[start + 20 : start + 700] = os.urandom(680)
    path.write_bytes(data)
    try:
        with open_damaged(path) as log:
            problems = check_logbook(log).problems
    except SweepkitError as error:
        problems = (str(error),)
    # free space in a page may change without harm; whatever can be read is proven by its hash
    if not problems:
        with open_damaged(path) as log:
            assert raw_bytes(log, find_sweep(log, 1)) == s1p(1)


@pytest.mark.parametrize("share", [0.2, 0.5, 0.9])
def test_a_file_cut_short_is_said_to_be_damaged(filled, path, share):
    filled.close()
    data = path.read_bytes()
    path.write_bytes(data[: int(len(data) * share)])
    try:
        with open_damaged(path) as log:
            said = check_logbook(log).problems
    except UnreadableFile as error:
        said = (str(error),)
    assert "damaged" in said[0]


def test_an_entry_of_absurd_size_is_refused_before_it_takes_memory(filled, path, monkeypatch):
    monkeypatch.setattr("sweepkit.logbook.store.LARGEST_CELL_BYTES", 1 << 20)
    filled.close()
    replace_row(path, f"UPDATE sweep SET facts = zeroblob({2 << 20}) WHERE id = 1")
    with open_damaged(path) as log:
        assert [sweep.id for sweep in list_sweeps(log)] == [2, 3]


def _altered_export(filled, tmp_path, change):
    export_logbook(filled, tmp_path / "out")
    file = tmp_path / "out" / "logbook.json"
    document = json.loads(file.read_text(encoding="utf-8"))
    change(document)
    file.write_text(json.dumps(document), encoding="utf-8")
    return tmp_path / "out"


def _first(part, /, **changes):
    return lambda document: document[part][0].update(changes)


@pytest.mark.parametrize(
    ("change", "words"),
    [
        (_first("sweeps", file="../secret"), "outside its folder"),
        (_first("sweeps", file="/etc/hostname"), "outside its folder"),
        (_first("sweeps", file="raw\\..\\..\\x"), "outside its folder"),
        (_first("sweeps", file="raw/00002-near.s1p"), "its hash differs"),
        (_first("sweeps", file="raw/none"), "not there"),
        (_first("sweeps", file=7), "the file of a sweep is not as log export writes it"),
        (_first("sweeps", sha256="0" * 63), "the file of a sweep"),
        (_first("sweeps", name="../x"), "the name of a file"),
        (_first("sweeps", setup="0" * 32), "the setup of a sweep"),
        (_first("sweeps", uid="x"), "the number of a sweep"),
        (_first("sweeps", number=0), "the number of a sweep"),
        (_first("sweeps", number=1 << 63), "the number of a sweep"),
        (_first("sweeps", number=True), "the number of a sweep"),
        (_first("sweeps", facts={"length_m": "ten"}), "length: 'ten' is not a number"),
        (_first("sweeps", facts={"site": "hill"}), "site: belongs elsewhere"),
        (_first("sweeps", facts=[]), "the facts of a sweep are missing"),
        (_first("sweeps", hints=[]), "a sweep is not as"),
        (_first("sweeps", hints={"reference_ohm": 1e300}), "reference-ohm is 1e+300; it must be 0.1 to"),
        (_first("sweeps", figures=[{"what": 1}]), "a figure is not as"),
        (_first("sweeps", added="soon"), "is no time"),
        (_first("setups", kit="kit/x.toml", kit_sha256=None), "a kit is not as"),
        (_first("setups", taken_over=[1]), "a setup is not as"),
        (lambda document: document["sweeps"].append(document["sweeps"][0]), "the names of sweeps"),
        (
            lambda document: document.update(schema="sweepkit/logbook/2"),
            "the schema is 'sweepkit/logbook/2'",
        ),
        (lambda document: document.update(sweeps=None), "sweeps is not a list of records"),
        (lambda document: document["history"].append({"uid": "0" * 32}), "an entry of the history"),
    ],
)
def test_an_altered_export_adds_nothing(filled, tmp_path, change, words):
    (tmp_path / "secret").write_bytes(s1p(1))
    folder = _altered_export(filled, tmp_path, change)
    with open_logbook(tmp_path / "new.sqlite", create=True) as log:
        with pytest.raises(SweepkitError) as error:
            import_logbook(log, folder)
        assert words in str(error.value)
        assert list_sweeps(log) == []


def test_a_history_of_sweeps_that_are_not_there_adds_nothing(filled, tmp_path):
    stray = {"uid": "1" * 32, "of": "2" * 32, "at": "2026-05-02", "name": "ground", "old": None, "new": "wet"}
    folder = _altered_export(filled, tmp_path, lambda document: document["history"].append(stray))
    with open_logbook(tmp_path / "new.sqlite", create=True) as log:
        with pytest.raises(SweepkitError, match="speaks of a sweep it does not hold"):
            import_logbook(log, folder)
        assert list_sweeps(log) == []


def test_a_link_out_of_an_export_is_not_followed(filled, tmp_path):
    export_logbook(filled, tmp_path / "out")
    (tmp_path / "secret").write_bytes(s1p(1))
    file = tmp_path / "out" / "raw" / "00001-wide.s1p"
    file.unlink()
    file.symlink_to(tmp_path / "secret")
    with (
        open_logbook(tmp_path / "new.sqlite", create=True) as log,
        pytest.raises(SweepkitError, match="outside its folder"),
    ):
        import_logbook(log, tmp_path / "out")


@pytest.mark.parametrize(
    ("text", "words"),
    [("", "not the JSON"), ("[" * 100_000, "not the JSON"), ("[]", "the schema is 'list'"), ("{}", "'None'")],
)
def test_what_is_no_export_is_refused(tmp_path, log, text, words):
    (tmp_path / "logbook.json").write_text(text)
    with pytest.raises(SweepkitError, match=words):
        import_logbook(log, tmp_path)


def test_numbers_that_are_none_are_refused(tmp_path, log):
    (tmp_path / "logbook.json").write_text('{"schema": "sweepkit/logbook/1", "setups": [NaN]}')
    with pytest.raises(SweepkitError, match="NaN is no number"):
        import_logbook(log, tmp_path)


def test_unknown_facts_of_a_later_version_are_kept(filled, tmp_path):
    folder = _altered_export(filled, tmp_path, _first("sweeps", facts={"later_m": 3}))
    with open_logbook(tmp_path / "new.sqlite", create=True) as log:
        import_logbook(log, folder)
        assert find_sweep(log, 1).facts == {"later_m": 3}
        assert check_logbook(log).problems == ()


def test_alter_reaches_the_file(filled, path):
    filled.close()
    alter(path, "UPDATE sweep SET name = 'x' WHERE id = 1")
    with open_damaged(path) as log:
        assert [sweep.id for sweep in list_sweeps(log)] == [2, 3]
