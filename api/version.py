"""Which version of the service this is."""

from importlib.metadata import version
from typing import Final

VERSION: Final = version("evenloop")
