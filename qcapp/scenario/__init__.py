"""An invented yard: people, batches and what goes wrong there, played through as real records."""

from qcapp.scenario.fill import fill_yard
from qcapp.scenario.model import Scenario, load_scenario
from qcapp.scenario.simulate import simulate_yard

__all__ = ["Scenario", "fill_yard", "load_scenario", "simulate_yard"]
