"""The page docs/several-bands.md shows what its commands print."""

import re
import shlex

import pytest

from tests.conftest import ROOT

PAGE = (ROOT / "docs" / "several-bands.md").read_text(encoding="utf-8")
SHOWN = re.findall(r"```sh\n(sweepkit trim [^`]*?)\n```\n\n```text\n(.*?)```", PAGE, re.DOTALL)


@pytest.mark.parametrize(("command", "shown"), SHOWN, ids=[command.split()[2] for command, _ in SHOWN])
def test_every_sample_of_the_page_is_what_it_prints(run, command, shown):
    done = run(*shlex.split(command.replace("\\\n", " "))[1:], cwd=ROOT)
    assert done.returncode == 0, done.stderr
    assert done.stdout == shown


def test_the_page_has_a_sample_for_each_kind():
    kinds = {re.search(r"--kind (\S+)", command).group(1) for command, _ in SHOWN}
    assert {"end-fed", "fan", "loaded-whip", "random-wire"} <= kinds
