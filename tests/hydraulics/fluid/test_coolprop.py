"""CoolProp's core is loaded alone, and its package can be loaded after it all the same."""

import subprocess
import sys

CODE = """
import time
began = time.process_time()
import hydraulics.fluid.mixture
alone = time.process_time() - began
import sys
assert "CoolProp" not in sys.modules
import CoolProp
from CoolProp.CoolProp import AbstractState
from hydraulics.fluid.coolprop import AbstractState as ours
assert AbstractState is ours
assert "Water" in CoolProp.__fluids__
print(alone / (time.process_time() - began))
"""


def test_the_core_is_loaded_without_all_fluids_and_the_package_still_can_be() -> None:
    done = subprocess.run([sys.executable, "-c", CODE], check=True, capture_output=True)
    # Of both together a tenth or so; with the package it was all but nothing less.
    assert float(done.stdout) < 0.5
