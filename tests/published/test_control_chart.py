"""The control chart against the worked example of the NIST/SEMATECH e-Handbook of Statistical Methods, 6.3.2.2.

"Individuals Control Charts" (pmc322), ten flow rates: mean 50.81, mean moving range 1.8778, limits 55.8041 and 45.8159.
The page itself could not be fetched here; the figures are as five independent public test suites carry them.
"""

import numpy as np
import pytest

from app.colour.repeatability import control_chart

FLOW_RATE = (49.6, 47.6, 49.9, 51.3, 47.8, 51.2, 52.6, 52.4, 53.6, 52.1)


def test_middle_and_limits_are_those_of_the_handbook() -> None:
    chart = control_chart(FLOW_RATE)
    assert np.abs(np.diff(FLOW_RATE)).mean() == pytest.approx(1.8778, abs=5e-5)
    assert chart.centre == pytest.approx(50.81, abs=5e-5)
    assert chart.upper == pytest.approx(55.8041, abs=5e-5)
    assert chart.lower == pytest.approx(45.8159, abs=5e-5)
    assert chart.signals == ()
