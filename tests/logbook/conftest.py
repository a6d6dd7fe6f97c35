import pytest
from log_files import s1p

from sweepkit.logbook import open_logbook
from sweepkit.logbook.adding import NewSetup, NewSweep, add_sweeps


@pytest.fixture(autouse=True)
def no_waiting_for_the_disk(request, monkeypatch):
    """A test that is not about crashes need not wait until its logbook is on the disk."""
    if "never_lost" not in request.node.nodeid and "waits_for_the_disk" not in request.node.nodeid:
        monkeypatch.setattr("sweepkit.logbook.store.SYNCHRONOUS", "OFF")


@pytest.fixture
def path(tmp_path):
    return tmp_path / "log.sqlite"


@pytest.fixture
def log(path):
    with open_logbook(path, create=True, tell=lambda text: None) as opened:
        yield opened


@pytest.fixture
def filled(log):
    """Two setups: the first with two sweeps, the second with one."""
    first = NewSetup({"antenna": "ridge", "site": "hill", "ground": "dry"}, kit=b"region = 2\n")
    add_sweeps(
        log, [NewSweep("wide.s1p", s1p(1), {"length_m": 10.2}), NewSweep("near.s1p", s1p(2))], setup=first
    )
    add_sweeps(log, [NewSweep("wide.s1p", s1p(3))], setup=NewSetup({"antenna": "whip", "site": "beach"}))
    return log


@pytest.fixture
def files(tmp_path):
    """A folder with three sweeps."""
    folder = tmp_path / "outing"
    folder.mkdir()
    for number in (1, 2, 3):
        (folder / f"sweep{number}.s1p").write_bytes(s1p(number))
    return folder
