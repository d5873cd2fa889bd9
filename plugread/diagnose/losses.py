"""What being wrong costs: the loss of stopping now, and of the three answers.

Loss of stopping now: for every cause the lesser of putting it right at once and of living with it, added up; never more than
not running the engine until somebody has found the fault. Sums over causes need their chances only.
"""

from __future__ import annotations

from dataclasses import dataclass, replace

import numpy as np
from numpy.typing import NDArray

from plugread.diagnose.network import Network
from plugread.diagnose.numbers import Array
from plugread.rules.tables import Losses


@dataclass(frozen=True, eq=False)
class LossTable:
    """Losses of each cause at each place (instances,), `severity` of running on with it and `put_right` of mending it.

    Both may carry a leading axis of shaken tables (B, instances). `standing_still` caps every loss; `minute` is the worth of
    a minute of work.
    """

    severity: Array
    put_right: Array
    standing_still: float
    minute: float

    def only(self, counting: NDArray[np.bool_]) -> LossTable:
        """Return the table with the losses of all causes that do not count (instances,) set to nothing."""
        return replace(self, severity=np.where(counting, self.severity, 0.0))

    def running_on(self, chances: Array) -> Array:
        """Expected loss of fitting the plugs and carrying on; `chances` (..., instances)."""
        return np.asarray((self.severity * chances).sum(axis=-1))

    def mending(self, joint: Array, total: Array) -> Array:
        """Expected loss of mending what is worth it and living with the rest.

        `joint` (..., instances) may be unnormalised, `total` (...) is then the chance of what was supposed.
        """
        return np.asarray(np.minimum(self.severity * joint, self.put_right * total[..., None]).sum(axis=-1))

    def stopping(self, joint: Array, total: Array) -> Array:
        """Expected loss of stopping now: mending, or standing still if that is cheaper."""
        return np.minimum(self.mending(joint, total), self.standing_still * total)


def loss_table(network: Network, losses: Losses | None = None) -> LossTable:
    """Look up the loss words of every cause."""
    rules = network.rules
    given = losses or rules.losses
    causes = [rules.causes[instance.cause] for instance in network.instances]
    return LossTable(
        severity=np.array([rules.scales.severity[cause.severity] for cause in causes], dtype=float),
        put_right=np.array([rules.scales.put_right[cause.put_right] for cause in causes], dtype=float),
        standing_still=given.standing_still,
        minute=given.hourly / 60.0,
    )
