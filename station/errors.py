"""Every error that a user may see. Each message says what, where and what to do, in one line."""


class StationError(Exception):
    """Base of all errors of this project; the command line prints its text and exits with `exit_code`."""

    exit_code = 2


class NotAFlightError(StationError):
    """A file holds no line that any altimeter of this protocol could have sent."""


class FileUnreadableError(StationError):
    """A file or folder is missing, forbidden or not readable as what it should be."""


class NotALogError(StationError):
    """A saved flight cannot be made, joined or noted as a log of the station."""


class DifferentFlightError(StationError):
    """Two records that were to be joined are not of the same flight, or too little shows that they are."""


class NoLiftoffError(StationError):
    """A saved flight in which no liftoff was observed: there is nothing to show or keep of it."""


class RecordingError(StationError):
    """The flight log cannot be created or written."""


class OutputError(StationError):
    """A file cannot be written: it exists already, would take the place of the flight itself, or the disk refuses."""


class MissingLibraryError(StationError):
    """Something was asked for that needs a library which is not installed."""


class PortError(StationError):
    """Base of what can go wrong with a serial port."""


class PortMissingError(PortError):
    """No such port, or it has been unplugged."""


class PortBusyError(PortError):
    """Another program holds the port."""


class PortForbiddenError(PortError):
    """The user may not open the port."""


class PortChoiceError(PortError):
    """No port was named and the choice is not obvious."""


class ScenarioError(StationError):
    """A virtual flight that does not exist was asked for."""


class PlanError(StationError):
    """A flight plan that cannot be understood; names the file, the line and the remedy."""


class PlanNotWrittenError(StationError):
    """A new flight plan is not written: its name is taken, its folder will not do, or an answer is missing."""


class PredictionError(StationError):
    """A simulation's CSV that cannot be understood; names the file, the line and the remedy."""


class ColumnsUnclearError(PredictionError):
    """Which column of a simulation's table is which, or in what unit, is not plain: somebody has to say.

    `choices` are (what to show, what that would be said as) of the `quantity` in question, `asks` the question.
    """

    def __init__(
        self, message: str, *, quantity: str = "", asks: str = "", choices: tuple[tuple[str, str], ...] = ()
    ) -> None:
        super().__init__(message)
        self.quantity = quantity
        self.asks = asks
        self.choices = choices


class PageError(StationError):
    """The page cannot be served, for example because the address is taken."""
