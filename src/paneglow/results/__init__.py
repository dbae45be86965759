"""What one evaluation amounts to: the record behind results.json and everything it was made from."""

from paneglow.results.build import build_check_results, build_results, build_survey_results, to_json
from paneglow.results.calls import PlacementResults, StartResults, WrittenResults
from paneglow.results.captions import (
    BENCH_FILE,
    OTHER_PICTURE,
    OUT_FOLDER,
    PAGE_FILE,
    PICTURES,
    RESULTS_FILE,
    SHORT_PAGE_FILE,
)
from paneglow.results.choices import ChoiceKind, Choices, LedChoice, build_choices
from paneglow.results.cost import CostResults, OptionLight, OptionResult
from paneglow.results.evaluation import Device, Evaluation, Provenance, Quality, StageTime
from paneglow.results.fingerprint import hash_design_files
from paneglow.results.options import (
    SwappedPart,
    TracedLight,
    Version,
    build_led_costs,
    build_option_light,
    build_options,
    luminance_by_part,
    read_light,
)
from paneglow.results.records import (
    CheckResults,
    FateShares,
    LedResult,
    Results,
    SurveyResults,
    UsedValue,
    WindowResult,
)
from paneglow.results.references import MODEL_REFERENCES
from paneglow.results.statements import GOAL_WORDS
from paneglow.results.stopwatch import Listener, Progress, Stopwatch

__all__ = [
    "build_choices",
    "LedChoice",
    "Choices",
    "ChoiceKind",
    "WrittenResults",
    "StartResults",
    "PlacementResults",
    "BENCH_FILE",
    "Listener",
    "Progress",
    "Stopwatch",
    "OTHER_PICTURE",
    "OUT_FOLDER",
    "GOAL_WORDS",
    "MODEL_REFERENCES",
    "PAGE_FILE",
    "SHORT_PAGE_FILE",
    "PICTURES",
    "RESULTS_FILE",
    "CostResults",
    "Device",
    "CheckResults",
    "Evaluation",
    "FateShares",
    "LedResult",
    "OptionLight",
    "OptionResult",
    "Provenance",
    "Quality",
    "Results",
    "StageTime",
    "SurveyResults",
    "SwappedPart",
    "TracedLight",
    "UsedValue",
    "Version",
    "WindowResult",
    "build_check_results",
    "build_option_light",
    "build_led_costs",
    "build_options",
    "luminance_by_part",
    "build_results",
    "build_survey_results",
    "hash_design_files",
    "read_light",
    "to_json",
]
