"""All that is worked out from an address's parameters, by its name."""

from __future__ import annotations

from .plan import PlanATest
from .practice import WORKED as OF_A_PIECE
from .practice import Worked

WORKED: dict[str, type[Worked]] = {**OF_A_PIECE, PlanATest.name: PlanATest}
