"""What machines cost, to the cent: lots and their shares, parts, minutes, and what the next pallet may cost."""

from kb.machines.cost.shares import shared as shared
