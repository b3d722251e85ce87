"""The finite-element library that sections are held against, without its compiling.

On a fresh installation it would compile its loops for a quarter of a minute; for the few small
meshes of these tests plain Python takes a second or two, and says the same.
"""

from __future__ import annotations

from unittest import mock

from numba import config

with mock.patch.object(config, "DISABLE_JIT", True):  # heard where a function is decorated
    from sectionproperties.analysis import Section as MeshedSection
    from sectionproperties.pre import Geometry, Material
    from sectionproperties.pre.library import rectangular_section

__all__ = ["Geometry", "Material", "MeshedSection", "rectangular_section"]
