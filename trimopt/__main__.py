"""The command: `trimopt`, `python -m trimopt`."""

import gc
import sys

from trimopt.interrupt import handle_ctrl_c, ignore_ctrl_c


def main() -> None:
    """Run the command line. Ctrl-C is answered from here on, imports included."""
    try:
        handle_ctrl_c()
        from trimopt.cli import main as command_line  # noqa: PLC0415

        command_line()
    except KeyboardInterrupt:
        print("trimopt: interrupted before there was anything to keep", file=sys.stderr)
        # A key pressed while a text is executed, as dataclasses do, has Python end by the signal,
        # whatever the code below; a text that runs to its end takes that back.
        exec("")
        sys.exit(130)
    finally:
        ignore_ctrl_c()
        gc.freeze()  # else Python looks through all that there is for cycles as it ends


if __name__ == "__main__":
    main()
