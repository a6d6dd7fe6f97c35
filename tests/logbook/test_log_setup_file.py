import pytest

from sweepkit.errors import BadInput
from sweepkit.logbook.setup_file import read_setup_file


def test_no_file_says_nothing(tmp_path):
    note = read_setup_file(tmp_path)
    assert (dict(note.facts), dict(note.of_file)) == ({}, {})


def test_words_are_those_of_set_and_files_have_their_own_part(tmp_path):
    (tmp_path / "setup.toml").write_text(
        'antenna = "ridge"\nwhen = 2026-05-02T09:30:00+02:00\nline = ["jumper", "RG-58 15 m"]\nradials = 4\n'
        'ground = "unknown"\nweather = ["rain", "wind"]\n[sweep."b.s1p"]\nby = "fold"\nchange = "-9 cm"\n',
        encoding="utf-8",
    )
    (tmp_path / "b.s1p").touch()
    note = read_setup_file(tmp_path)
    assert note.facts == {
        "antenna": "ridge", "when": "2026-05-02T09:30:00+02:00", "line": ["jumper", "RG-58 15 m"],
        "radials": 4,
        "ground": None, "weather": ["rain", "wind"],
    }  # fmt: skip
    assert note.of_file == {"b.s1p": {"by": "fold", "change_m": -0.09}}


@pytest.mark.parametrize(
    ("text", "words"),
    [
        ("antenna = ridge\n", "this is not TOML"),
        ("length = 10.2\n", "length: '10.2' has no unit"),
        ("[sweep.'mistyped.s1p']\nby = 'fold'\n", "names no file in the folder; there are none"),
        ("feed-height = '9 m'\nfeed_height = '8 m'\n", "feed_height stands twice"),
        ("colour = 'red'\n", "no field 'colour'"),
        ("when = 2026-05-02T09:30:00\n", "has no zone"),
        ("[sweep]\nby = 'fold'\n", "sweep is not a table of files"),
        ("[sweep.'a.s1p']\nsite = 'hill'\n", "site belongs to the whole setup"),
        ("[note]\na = 1\n", "note is a table"),
        ("note = " + "[" * 5000, "this is not TOML"),
        ("#" * (1 << 20) + "\n", "larger than 1 MiB"),
    ],
)
def test_a_mistake_names_the_file(tmp_path, text, words):
    (tmp_path / "setup.toml").write_text(text, encoding="utf-8")
    with pytest.raises(BadInput) as error:
        read_setup_file(tmp_path)
    assert "setup.toml: " in str(error.value)
    assert words in str(error.value)


def test_bytes_that_are_no_text_are_refused(tmp_path):
    (tmp_path / "setup.toml").write_bytes(b"note = '\xff'\n")
    with pytest.raises(BadInput, match="this is not TOML"):
        read_setup_file(tmp_path)
