"""The story of a first outing prints what it shows, command by command, from a clone as it stands."""

import importlib.util
import re
import shutil
from pathlib import Path

ROOT = Path(__file__).resolve().parents[1]
PAGE = ROOT / "docs" / "first-outing.md"


def test_the_first_outing_prints_what_it_shows(run, tmp_path, monkeypatch):
    """Numbers that changed on purpose: ``python docs/run_examples.py docs/first-outing.md`` writes them anew."""
    spec = importlib.util.spec_from_file_location("run_examples", ROOT / "docs" / "run_examples.py")
    examples = importlib.util.module_from_spec(spec)
    spec.loader.exec_module(examples)
    monkeypatch.delenv("SWEEPKIT_LOG", raising=False)
    shutil.copytree(ROOT / "sample_sweeps", tmp_path / "sample_sweeps")

    def printed(words):
        done = run(*words[1:], cwd=tmp_path)
        assert done.returncode == 0, (words, done.stderr)
        return done.stdout

    text = PAGE.read_text(encoding="utf-8")
    assert examples.filled(text, printed) == text
    assert len(re.findall(r"^\$ sweepkit", text, re.MULTILINE)) >= 10
