"""Reading, checking and freezing what a run needs: site, vine, treatments, crews, strategies, experiment."""

from spreadsim.errors import InputError, Problems
from spreadsim.inputs.crew import Crew
from spreadsim.inputs.daily import Daily
from spreadsim.inputs.design import Design
from spreadsim.inputs.design_factor import Factor
from spreadsim.inputs.design_file import find_design, read_design
from spreadsim.inputs.design_kinds import grid, latin_hypercube, listed, sobol
from spreadsim.inputs.design_points import bind
from spreadsim.inputs.embed import embed, unembed
from spreadsim.inputs.embed import unembed as experiment_of  # its public name
from spreadsim.inputs.event import Event
from spreadsim.inputs.experiment import Experiment
from spreadsim.inputs.experiment_file import read_experiment
from spreadsim.inputs.fund import Fund
from spreadsim.inputs.hosts import Hosts, Sources
from spreadsim.inputs.monthly import Monthly
from spreadsim.inputs.parameter import Parameter
from spreadsim.inputs.site import Site
from spreadsim.inputs.site_file import read_site
from spreadsim.inputs.site_hash import site_hash
from spreadsim.inputs.start import Start
from spreadsim.inputs.start_file import read_start, write_start
from spreadsim.inputs.strategy import NO_ACTION, Strategy
from spreadsim.inputs.survey import Survey, read_survey
from spreadsim.inputs.task import FollowUp, Task
from spreadsim.inputs.treatment import Treatment
from spreadsim.inputs.treatment_file import load_treatment, treatment_names
from spreadsim.inputs.vine import Vine, load_vine, vine_names
from spreadsim.inputs.weather import Weather

__all__ = [
    "NO_ACTION",
    "Crew",
    "Daily",
    "Design",
    "Event",
    "Experiment",
    "Factor",
    "FollowUp",
    "Fund",
    "Hosts",
    "InputError",
    "Monthly",
    "Parameter",
    "Problems",
    "Site",
    "Sources",
    "Start",
    "Strategy",
    "Survey",
    "Task",
    "Treatment",
    "Vine",
    "Weather",
    "bind",
    "embed",
    "experiment_of",
    "find_design",
    "grid",
    "latin_hypercube",
    "listed",
    "load_treatment",
    "load_vine",
    "read_design",
    "read_experiment",
    "read_site",
    "read_start",
    "read_survey",
    "site_hash",
    "sobol",
    "treatment_names",
    "unembed",
    "vine_names",
    "write_start",
]
