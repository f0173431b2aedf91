from steadfeed.analysis.challenge import Judgement as Judgement
from steadfeed.analysis.challenge import judge as judge
from steadfeed.analysis.criteria import CRITERIA as CRITERIA
from steadfeed.capture.logs import read_log as read_log
from steadfeed.capture.system_file import default_system as default_system
from steadfeed.capture.system_file import read_system as read_system
from steadfeed.circuit.equipment import System as System
from steadfeed.circuit.recording import Recording as Recording
from steadfeed.circuit.verdict import Assessment as Assessment
from steadfeed.errors import FixInput as FixInput
from steadfeed.errors import InstallPart as InstallPart
from steadfeed.errors import NotAllowed as NotAllowed
from steadfeed.errors import OutOfRange as OutOfRange
from steadfeed.errors import SteadfeedError as SteadfeedError
from steadfeed.errors import TryAgain as TryAgain
from steadfeed.physics.properties import Curves as Curves
from steadfeed.physics.properties import curves as curves
from steadfeed.physics.properties import refrigerant_names as refrigerant_names
from steadfeed.visit.json_form import judgement_form as judgement_form
from steadfeed.visit.judge_log import JudgedLog as JudgedLog
from steadfeed.visit.judge_log import judge_log as judge_log
from steadfeed.visit.judge_log import method_version as method_version
from steadfeed.visit.papers import write_reports as write_reports

__version__: str
