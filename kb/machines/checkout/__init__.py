"""The check-out of a machine: in which order its lines are gone through, and what a later repair makes stale."""

from kb.machines.checkout.sequence import expected_minutes as expected_minutes
from kb.machines.checkout.sequence import order as order
