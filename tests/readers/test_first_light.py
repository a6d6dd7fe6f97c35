"""The guarded way into a file: nothing in it is ever run."""

import os
import pickle

import numpy as np
import pytest

from sweepkit.errors import UnreadableFile
from sweepkit.readers import read_sweep


class _Bomb:
    def __init__(self, target):
        self.target = target

    def __reduce__(self):
        return (os.mkdir, (self.target,))


@pytest.mark.parametrize("protocol", range(pickle.HIGHEST_PROTOCOL + 1))
def test_a_pickle_named_s1p_is_refused_and_does_not_run(tmp_path, protocol):
    target = str(tmp_path / "proof")
    path = tmp_path / "antenna.s1p"
    path.write_bytes(pickle.dumps(_Bomb(target), protocol=protocol))
    with pytest.raises(UnreadableFile, match=r"antenna\.s1p:\d+: "):
        read_sweep(path)
    assert not os.path.exists(target)
    pickle.loads(path.read_bytes())
    assert os.path.exists(target)  # so the file was a live one


def test_reads_a_plain_one_port_file(tmp_path):
    path = tmp_path / "dipole.s1p"
    path.write_text("! made by hand\n# MHz S RI R 50\n7.0 0.5 0.1\n7.1 0.4 -0.2\n")
    sweep = read_sweep(path, measured_at="radio")
    np.testing.assert_array_equal(sweep.f_hz, [7.0e6, 7.1e6])
    np.testing.assert_array_equal(sweep.gamma, [0.5 + 0.1j, 0.4 - 0.2j])
    assert sweep.reference_ohm == 50
    assert sweep.measured_at == "radio"
    assert sweep.source.comments == ("made by hand",)
    assert sweep.source.reader == "touchstone"
