"""What fits: families of models that take the same part, told by what was tried, and the evidence before any figure."""

from kb.machines.fits.fitting import Fitting as Fitting
from kb.machines.fits.fitting import PartTry as PartTry
from kb.machines.fits.fitting import chance as chance
from kb.machines.fits.fitting import fitting as fitting
from kb.machines.fits.strength import Strength as Strength
from kb.machines.fits.strength import strengths as strengths
