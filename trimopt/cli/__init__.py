"""The command line: one file a command, loaded only when it is called.

Exit codes: 0 done; 1 an error with no code of its own; 2 wrong usage; 3 faults in the order book;
4 faults in the mill file; 5 nothing can be made; 6 out of time before there was a plan;
7 a plan that does not hold; 8 a report that cannot be written or read; 9 the ledger; 10 of an
enquiry, ask the planner; 130 Ctrl-C, and nothing was written. A plan that time or Ctrl-C ended,
checked and written, is 0: it says so.
"""

from __future__ import annotations

import gc
import importlib
import io
import sys
from dataclasses import asdict

import click

from trimopt.cli.output import fault_lines, say, say_fields
from trimopt.errors import FaultsError, TrimoptError

_OBJECTS_BETWEEN_LOOKS = 100_000

#: Command, its module, and the line that `trimopt --help` prints (so that help imports nothing).
COMMANDS = {
    "start": "Lay down a mill file and an empty order book.",
    "check": "Read an order book and report every fault.",
    "plan": "Make the slitter plan of an order book.",
    "verify": "Check a plan as issued against its book and mill.",
    "revise": "Say what an edited plan breaks and does, and issue it.",
    "replan": "Plan the rest of a plan that was run in part.",
    "fit": "Sales: does a width fit, with what, and what does it cost in paper?",
    "held": "List what sales holds for customers, or release it.",
    "record": "Keep what was run of a plan in the ledger.",
    "trend": "Show trim loss over time, planned and run, and what causes it.",
    "schema": "Print the JSON Schema of a plan, for programs that read plans.",
    "guide": "Read the guide, chapter by chapter.",
}


class _Commands(click.Group):
    """A group that imports a command's module when the command is called."""

    def list_commands(self, ctx: click.Context) -> list[str]:
        del ctx
        return list(COMMANDS)

    def get_command(self, ctx: click.Context, cmd_name: str) -> click.Command | None:
        del ctx
        if cmd_name not in COMMANDS:
            return None
        module = importlib.import_module(f"trimopt.cli.{cmd_name}")
        command: click.Command = module.command
        return command

    def format_commands(self, ctx: click.Context, formatter: click.HelpFormatter) -> None:
        del ctx
        with formatter.section("Commands"):
            formatter.write_dl(list(COMMANDS.items()))


@click.group(
    cls=_Commands,
    context_settings={"help_option_names": ["-h", "--help"], "max_content_width": 100},
    epilog="Exit codes: 0 done, 2 usage, 3 order book, 4 mill file, 5 nothing can be made, 6 out "
    "of time, 7 does not hold, 8 report, 9 ledger, 10 ask the planner, 130 interrupted with "
    "nothing written.",
)
@click.version_option(package_name="trimopt")
def trimopt() -> None:
    """Reels and sheets ordered in, a checked slitter plan out.

    Example: trimopt plan orders/shift.xlsx
    """


def main() -> None:
    """Run a command and turn its errors into a message on stderr and an exit code."""
    # A plan is a hundred thousand small objects that live to the end: looking through them for
    # cycles at Python's own pace is a sixth of a command's time.
    gc.set_threshold(_OBJECTS_BETWEEN_LOOKS, 20, 50)
    try:
        code = trimopt.main(standalone_mode=False)
    except click.ClickException as error:
        usage = io.StringIO()
        error.show(usage)
        say(usage.getvalue().rstrip("\n"), err=True)
        sys.exit(error.exit_code)
    except click.Abort as error:  # what it makes of Ctrl-C
        raise KeyboardInterrupt from error
    except TrimoptError as error:
        said = str(error)
        if isinstance(error, FaultsError):
            said = "\n  ".join([error.head, *fault_lines(error.faults)])
            if "--json" in sys.argv:
                faults = [asdict(fault) for fault in error.faults]
                say_fields({"source": error.source, "faults": faults})
        say(f"trimopt: {said}", err=True)
        sys.exit(error.exit_code)
    sys.exit(code if isinstance(code, int) else 0)
